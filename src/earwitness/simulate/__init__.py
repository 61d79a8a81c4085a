"""Sound made from physics, for demo, practice and tests alone.

How a recording is made: a source is written as a complex envelope about a centre frequency (a `Band`), the parts
are added, and a `Receiver` hears them.

    receiver = random_receiver(rng)                       # or Receiver(centre_hz=40e3, rate_hz=48e3, ...)
    band = receiver.band                                  # Band(centre_hz, rate_hz): where to synthesise
    source = 0.3 * band.noise(rng, seconds)               # jet hiss, say; band.tone(f_hz, seconds), band.ring(...)
    audio = receiver.hear_band(source + 0.1 * plant_noise(rng, seconds, band), rng)    # (n,) float32 at rate_hz

    receiver.hear(ultrasound, source_rate_hz, rng)        # the same from real samples (n,) at 80 kHz and more
    receiver.record_direct(ultrasound, source_rate_hz, rng, rate_hz=192e3)             # wide-band, no oscillator
    receiver.as_direct(192e3)                             # a receiver whose .band and .hear_band are wide-band

Why an envelope is enough: real ultrasound x(t) = Re{a(t)·exp(j2πf_c t)}, mixed with the oscillator 2·cos(2πf_c t)
and low-passed, leaves Re{a(t)}. So `a` sampled at the audio rate (side-bands f_c ± rate/2) holds all that can be
heard, both side-bands folding on each other as they do in the instrument; nothing needs 400 kHz.
A wide-band recording at rate R is the case f_c = R/4 with `a` at R/2: it covers 0 … R/2 exactly.

`simulate.noise`: ambience, whine, babble, clatter, exhaust_puffs, reversing_beeper, compressor_rumble,
modulated_noise, two_tones, each `(rng, seconds, band) -> (n,) complex64` of unit rms; `plant_noise` mixes some.
"""
