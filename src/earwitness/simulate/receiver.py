"""The hand-held receiver: what it makes of ultrasound before anybody hears it.

Transducer resonance → oscillator (both side-bands fold) → audio pass band → self-noise → gain → automatic gain →
soft or hard limit → quantisation. See the package's docstring for the complex-envelope form used here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Envelope = NDArray[np.complex64]
Audio = NDArray[np.float32]
AUDIO_RATES_HZ = (8_000, 11_025, 16_000, 22_050, 44_100, 48_000)
WIDE_RATES_HZ = (96_000, 192_000, 250_000, 256_000, 384_000, 500_000)


@dataclass(frozen=True)
class Band:
    """Where a source is written: complex samples at `rate_hz`, standing for centre_hz ± rate_hz/2."""

    centre_hz: float
    rate_hz: float

    def count(self, seconds: float) -> int:
        return round(seconds * self.rate_hz)

    def times(self, seconds: float) -> NDArray[np.float64]:
        return np.arange(self.count(seconds)) / self.rate_hz

    def somewhere(self, rng: np.random.Generator) -> float:
        """A frequency [Hz] at which machines ring and whine and this band hears it."""
        if self.rate_hz / 2 < self.centre_hz:
            return float(self.centre_hz + rng.uniform(-0.4, 0.4) * min(self.rate_hz, 24e3))
        top = self.centre_hz + self.rate_hz / 2
        return float(rng.uniform(min(12e3, 0.15 * top), min(60e3, 0.95 * top)))

    def silence(self, seconds: float) -> Envelope:
        return np.zeros(self.count(seconds), np.complex64)

    def noise(self, rng: np.random.Generator, seconds: float) -> Envelope:
        """White noise of unit rms over the whole band."""
        draws = rng.standard_normal(2 * self.count(seconds), np.float32)
        draws *= np.float32(np.sqrt(0.5))
        return draws.view(np.complex64)

    def tone(self, hz: float, seconds: float, phase: float = 0.0) -> Envelope:
        """A tone of unit amplitude at `hz`; silence if it lies outside the band."""
        offset = hz - self.centre_hz
        if abs(offset) >= self.rate_hz / 2:
            return self.silence(seconds)
        count, step = self.count(seconds), 1024
        fine = np.exp(2j * np.pi * offset / self.rate_hz * np.arange(step))
        coarse = np.exp(1j * (2 * np.pi * offset / self.rate_hz * step * np.arange(-(-count // step)) + phase))
        return np.multiply.outer(coarse.astype(np.complex64), fine.astype(np.complex64)).ravel()[:count]

    def ring(self, hz: float, decay_s: float, phase: float = 0.0, seconds: float | None = None) -> Envelope:
        """One blow on a thing that rings at `hz` with amplitude decay e^(−t/decay_s); unit amplitude at its start."""
        length = 7 * decay_s if seconds is None else seconds
        t = np.arange(max(1, self.count(length))) / self.rate_hz
        return np.exp((2j * np.pi * (hz - self.centre_hz) - 1 / decay_s) * t + 1j * phase).astype(np.complex64)

    def from_samples(self, ultrasound: NDArray[np.floating], source_rate_hz: float) -> Envelope:
        """Real samples at source_rate_hz as the envelope in this band (exact resampling of the whole array by FFT)."""
        count = len(ultrasound)
        out = self.count(count / source_rate_hz)
        spectrum = fft.rfft(np.asarray(ultrasound))
        k = np.arange(out) - out // 2
        source = k + round(self.centre_hz * count / source_rate_hz)
        inside = (source >= 0) & (source < len(spectrum))
        taken = np.zeros(out, np.complex128)
        taken[inside] = spectrum[source[inside]]
        return (fft.ifft(fft.ifftshift(taken)) * (2 * out / count)).astype(np.complex64)


@dataclass(frozen=True)
class AutomaticGain:
    """Gain that drives the level to `target_rms`, with time constants for rising and falling sound."""

    target_rms: float = 0.1
    attack_s: float = 0.005
    release_s: float = 0.3
    most_gain: float = 30.0

    def applied(self, audio: Audio, rate_hz: float) -> Audio:
        step = max(1, round(rate_hz / 1000))
        blocks = -(-len(audio) // step)
        padded = np.zeros(blocks * step, np.float32)
        padded[: len(audio)] = audio
        power = np.square(padded.reshape(blocks, step)).mean(axis=1).tolist()
        up, down = np.exp(-1e-3 / self.attack_s), np.exp(-1e-3 / self.release_s)
        state, track = power[0] if power else 0.0, []
        for p in power:
            keep = up if p > state else down
            state = keep * state + (1 - keep) * p
            track.append(state)
        gain = np.minimum(self.target_rms / np.sqrt(np.asarray(track) + 1e-20), self.most_gain)
        at = (np.arange(blocks) + 0.5) * step
        return (audio * np.interp(np.arange(len(audio)), at, gain)).astype(np.float32)


@dataclass(frozen=True)
class Receiver:
    """A receiver and the recorder behind it; full scale is 1.

    centre_hz : oscillator (heterodyned) or the middle of what is recorded (direct)
    rate_hz : samples a second of the recording
    signal : "heterodyned", or "direct" (the sensor's own waveform up to rate_hz/2)
    band_hz : width of the pass band around the oscillator; half of it is the audio's upper limit
    audio_low_hz : the audio path's lower limit (coupling capacitor)
    resonance_hz, q : the transducer's resonance; `floor` is its response far from it (0.0–1)
    self_noise : rms of the electronics' own hiss before gain, in units of full scale
    gain : factor on everything
    agc : automatic gain, or None
    limit : "hard" or "soft" limiting at full scale
    bits : quantisation
    pickup_hz, pickup : mains that the cable picks up, frequency and amplitude in the recording
    """

    centre_hz: float = 40_000.0
    rate_hz: float = 48_000.0
    signal: Literal["heterodyned", "direct"] = "heterodyned"
    band_hz: float = 8_000.0
    audio_low_hz: float = 80.0
    resonance_hz: float = 40_000.0
    q: float = 8.0
    floor: float = 0.05
    self_noise: float = 0.001
    gain: float = 1.0
    agc: AutomaticGain | None = None
    limit: Literal["hard", "soft"] = "hard"
    bits: int = 16
    pickup_hz: float = 50.0
    pickup: float = 0.0

    @cached_property
    def band(self) -> Band:
        """Where to synthesise what this receiver is to hear."""
        if self.signal == "direct":
            return Band(self.rate_hz / 4, self.rate_hz / 2)
        return Band(self.centre_hz, self.rate_hz)

    def as_direct(self, rate_hz: float) -> Receiver:
        """The same sensor recorded without an oscillator, at rate_hz."""
        return replace(self, signal="direct", rate_hz=rate_hz)

    def hear(self, ultrasound: NDArray[np.floating], source_rate_hz: float, rng: np.random.Generator) -> Audio:
        """What is recorded of real ultrasound (n,) at source_rate_hz: (m,) float32 at rate_hz."""
        return self.hear_band(self.band.from_samples(ultrasound, source_rate_hz), rng)

    def record_direct(
        self, ultrasound: NDArray[np.floating], source_rate_hz: float, rng: np.random.Generator, rate_hz: float
    ) -> Audio:
        """The wide-band recording of real ultrasound at rate_hz, without an oscillator."""
        return self.as_direct(rate_hz).hear(ultrasound, source_rate_hz, rng)

    def hear_band(self, envelope: Envelope, rng: np.random.Generator) -> Audio:
        """What is recorded of an envelope in `band`: (n,) float32 heterodyned, (2n,) direct."""
        phase = np.exp(2j * np.pi * rng.random())
        spectrum = fft.fft(envelope) * np.complex64(phase)
        offsets = fft.fftfreq(len(envelope), 1 / self.band.rate_hz).astype(np.float32)
        spectrum *= self._transducer(offsets + np.float32(self.band.centre_hz))
        audio = self._direct(spectrum) if self.signal == "direct" else self._folded(spectrum, offsets)
        if self.self_noise:
            audio += self._own_hiss(len(audio), rng)
        return self._recorded(audio, rng)

    def _transducer(self, hz: NDArray[np.float32]) -> NDArray[np.complex64]:
        ratio = np.maximum(hz, 1.0) / np.float32(self.resonance_hz)
        response = np.float32(1 - self.floor) / (1 + 1j * np.float32(self.q) * (ratio - 1 / ratio))
        return (response + np.float32(self.floor)).astype(np.complex64)

    def _folded(self, spectrum: NDArray[np.complex64], offsets: NDArray[np.float32]) -> Audio:
        spectrum *= self._audio_path(np.abs(offsets))
        return np.ascontiguousarray(fft.ifft(spectrum).real, dtype=np.float32)

    def _direct(self, spectrum: NDArray[np.complex64]) -> Audio:
        n = len(spectrum)
        half = np.zeros(n + 1, np.complex64)
        half[:n] = fft.fftshift(spectrum)
        half[0] = half[0].real
        return fft.irfft(half, 2 * n).astype(np.float32, copy=False)

    def _audio_path(self, hz: NDArray[np.float32]) -> NDArray[np.float32]:
        """Amplitude response of the audio side: second-order lower limit, eighth-order upper limit."""
        top = np.float32(min(self.band_hz / 2, 0.49 * self.rate_hz))
        low = np.square(hz / np.float32(max(self.audio_low_hz, 1.0)))
        return low / np.sqrt(1 + low * low) / np.sqrt(1 + (hz / top) ** 16)

    def _own_hiss(self, count: int, rng: np.random.Generator) -> Audio:
        hiss = rng.standard_normal(count, np.float32)
        if self.signal == "heterodyned":
            shaped = fft.rfft(hiss)
            shaped *= self._audio_path(fft.rfftfreq(count, 1 / self.rate_hz).astype(np.float32))
            hiss = fft.irfft(shaped, count)
            hiss /= np.float32(np.sqrt(np.mean(np.square(hiss))) + 1e-12)
        return hiss * np.float32(self.self_noise)

    def _recorded(self, audio: Audio, rng: np.random.Generator) -> Audio:
        audio *= np.float32(self.gain)
        if self.agc is not None:
            audio = self.agc.applied(audio, self.rate_hz)
        if self.pickup:
            t = np.arange(len(audio)) / self.rate_hz
            for multiple, share in ((1, 1.0), (2, 0.3), (3, 0.5), (5, 0.2)):
                turn = 2 * np.pi * (multiple * self.pickup_hz * t + rng.random())
                audio += (self.pickup * share * np.cos(turn)).astype(np.float32)
        if self.limit == "soft":
            audio = np.tanh(audio)
        full = float(2 ** (self.bits - 1))
        return np.clip(np.rint(audio * full), -full, full - 1).astype(np.float32) / np.float32(full)


def random_receiver(rng: np.random.Generator, *, direct: bool = False, agc: bool = False) -> Receiver:
    """A receiver out of the variety that people carry: oscillator 25–45 kHz, every usual audio rate, narrow and wide
    pass bands, sharp and blunt transducers. Its gain is 1: level the scene, or set `gain`, as the case needs."""
    rate = float(rng.choice(WIDE_RATES_HZ if direct else AUDIO_RATES_HZ))
    centre = float(rng.uniform(25e3, 45e3))
    widest = 2 * 0.46 * rate
    return Receiver(
        centre_hz=centre,
        rate_hz=rate,
        signal="direct" if direct else "heterodyned",
        band_hz=float(min(rng.uniform(4e3, 16e3), widest)),
        audio_low_hz=float(rng.uniform(20, 250)),
        resonance_hz=centre + float(rng.normal(0, 1500)),
        q=float(np.exp(rng.uniform(np.log(1.5), np.log(25)))),
        floor=float(rng.uniform(0.02, 0.3)),
        self_noise=float(10 ** rng.uniform(-4, -2.3)),
        agc=AutomaticGain(
            target_rms=float(rng.uniform(0.05, 0.2)),
            attack_s=float(10 ** rng.uniform(-2.5, -1)),
            release_s=float(10 ** rng.uniform(-1.3, 0.3)),
        )
        if agc
        else None,
        limit="soft" if rng.random() < 0.3 else "hard",
        bits=int(rng.choice([16, 16, 24])),
    )
