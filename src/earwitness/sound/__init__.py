"""What can be measured in an array of samples. Knows nothing of files and plants.

    fitness.examine(samples or blocks, rate_hz, *, kind, signal, sensor, lossy, frames_promised, cut_short, mains_hz,
                    speed_hz) -> FitnessReport(problems, start, stop, measures; .fit, .spoiled, .codes)
    fitness.Examiner(rate_hz, ...).add(block); .report()       the same for a stream; one a channel
    fitness.better_channel(reports) -> int
    levels.track(samples, rate_hz, *, hop_s) -> LevelTrack     level over time
    levels.course(samples, rate_hz) -> Course(word, ...)       steady, swept, pulsing, erratic
    spectrum.stft_power(samples, rate_hz, *, window_s) -> Stft; spectrum.averaged; spectrum.noise_floor
    heterodyne.fold(samples, rate_hz, oscillator_hz, *, low_pass_hz, out_hz)    a wide-band recording made audible
    bands.fractional_octaves(low_hz, high_hz, fraction) -> Bands; bands.band_levels(samples, rate_hz, ...)
"""
