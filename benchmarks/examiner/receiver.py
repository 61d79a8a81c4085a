"""The receiver: sensor, oscillator, low-pass, recorder. It is linear, so each source can be heard alone and mixed
after.

Heterodyning multiplies by a cosine at the oscillator's frequency and keeps the low part, so f and 2·LO − f fall
together
(Horowitz & Hill, The Art of Electronics, on mixers). Piezo elements resonate at 25–40 kHz with Q of 3–30 (M).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Floats = NDArray[np.floating]


@dataclass(frozen=True)
class Receiver:
    """One instrument with one setting; `inner` is the rate at which the world is simulated before it is received."""

    signal: str
    seconds: float
    inner: int
    rate: int
    bits: int
    channels: int
    centre_hz: float
    band_hz: float
    resonance_hz: float
    q: float
    low_cut_hz: float
    floor_db: float
    peak_db: float
    reference_db: float

    @property
    def samples(self) -> int:
        """Samples of the world [1]."""
        return round(self.seconds * self.inner)

    def hear(self, world: Floats) -> Floats:
        """Sound at the sensor, `inner` samples a second → sound in the recording, before gain and the receiver's own
        noise.
        """
        spectrum = fft.rfft(world.astype(np.float32))
        f = np.arange(spectrum.size) / self.seconds
        spectrum *= self._sensor(f)
        if self.signal == "direct":
            return fft.irfft(spectrum * (f > self.low_cut_hz), self.samples)
        out = round(self.seconds * self.rate)
        lo = round(self.centre_hz * self.seconds)
        k = np.arange(min(out // 2, lo, spectrum.size - 1 - lo))
        audio = np.zeros(out // 2 + 1, dtype=complex)
        audio[k] = (spectrum[lo + k] + np.conj(spectrum[lo - k])) / 2 * self._audio(k / self.seconds)
        audio[0] = 0
        return fft.irfft(audio, out) * (out / self.samples)

    def own_noise(self, rng: np.random.Generator) -> Floats:
        """The amplifier's hiss: white before the audio filter (heterodyned) or in the whole band (direct)."""
        n = round(self.seconds * self.rate)
        spectrum = fft.rfft(rng.standard_normal(n, dtype=np.float32))
        f = np.arange(spectrum.size) / self.seconds
        if self.signal == "direct":
            return fft.irfft(spectrum, n)
        return fft.irfft(spectrum * (np.abs(self._audio(f)) + 0.01), n)

    def band_rms(self, audio: Floats) -> float:
        """What the meter measures: all of the audio, or ±4 kHz about the centre of a direct recording."""
        if self.signal != "direct":
            return float(np.sqrt(np.mean(audio**2)))
        spectrum = fft.rfft(audio)
        f = np.arange(spectrum.size) / self.seconds
        inside = np.abs(f - self.centre_hz) < 4000
        return float(np.sqrt(2 * np.sum(np.abs(spectrum[inside]) ** 2)) / audio.size)

    def band_rms_short(self, audio: Floats) -> float:
        """The same of a short piece: for a direct recording the piece's own bins are used."""
        if self.signal != "direct":
            return float(np.sqrt(np.mean(audio**2)))
        spectrum = fft.rfft(audio * np.hanning(audio.size)) / np.sqrt(0.375)
        f = np.fft.rfftfreq(audio.size, 1 / self.rate)
        inside = np.abs(f - self.centre_hz) < 4000
        return float(np.sqrt(2 * np.sum(np.abs(spectrum[inside]) ** 2)) / audio.size)

    def _sensor(self, f: Floats) -> NDArray[np.complexfloating]:
        ratio = np.maximum(f, 1) / self.resonance_hz
        resonant = 1 / (1 + 1j * self.q * (ratio - 1 / ratio))
        flat = 0.25 if self.signal == "heterodyned" else 1.0  # a wide-band microphone is nearly flat, with a mild peak
        return resonant + flat / (1 + 1j * f / 120e3)

    def _audio(self, f: Floats) -> NDArray[np.complexfloating]:
        low = 1 / (1 + 1j * f / self.band_hz) / (1 + 1j * f / self.band_hz / 1.3)
        high = 1j * f / self.low_cut_hz / (1 + 1j * f / self.low_cut_hz)
        sharp = 1 / np.sqrt(1 + (f / (1.4 * self.band_hz)) ** 16)
        return low * high * sharp


def accelerometer(rng: np.random.Generator, seconds: float) -> Receiver:
    """A vibration record as test rigs make them: the metal itself, 12–64 kHz, a mounted resonance of the sensor (M)."""
    rate = int(rng.choice([12000, 20000, 25600, 48000, 51200, 64000]))
    return Receiver(
        signal="direct", seconds=round(seconds * 2) / 2, inner=rate, rate=rate, bits=int(rng.choice([16, 24])),
        channels=1,
        centre_hz=0.27 * rate, band_hz=rate / 2, resonance_hz=float(rng.uniform(0.25, 0.6)) * rate,
        q=float(rng.uniform(1, 4)),
        low_cut_hz=float(rng.uniform(1, 10)), floor_db=float(rng.uniform(-25, -10)),
        peak_db=float(rng.uniform(-20, -2)),
        reference_db=float(rng.uniform(10, 35)),
    )  # fmt: skip


def draw(rng: np.random.Generator, seconds: float, direct: float = 0.25) -> Receiver:
    """An instrument as they are found: most heterodyne, a share `direct` records the ultrasound itself."""
    whole = round(seconds * 2) / 2
    bits, channels = int(rng.choice([16, 24])), int(rng.choice([1, 1, 1, 2]))
    common = {"seconds": whole, "bits": bits, "channels": channels, "peak_db": float(rng.uniform(-22, -2))}
    reference = float(rng.uniform(10, 35))
    if rng.random() < direct:
        rate = int(rng.choice([96000, 192000, 192000, 250000, 256000, 384000, 500000]))
        if rate > 256000:
            common["seconds"] = min(whole, 8.0)
        return Receiver(
            signal="direct", inner=rate, rate=rate, centre_hz=40e3 if rate > 96000 else 36e3, band_hz=rate / 2,
            resonance_hz=float(rng.uniform(22e3, 45e3)), q=float(rng.uniform(0.5, 3)),
            low_cut_hz=float(rng.uniform(20, 200)), floor_db=float(rng.uniform(-20, -4)),
            reference_db=reference, **common,
        )  # fmt: skip
    rate = int(rng.choice([16000, 22050, 44100, 48000, 48000, 96000]))
    centre = float(rng.choice([20e3, 25e3, 30e3, 34e3, 38e3, 40e3, 40e3, 40e3, 60e3]) + rng.uniform(-800, 800))
    return Receiver(
        signal="heterodyned", inner=192000 if centre < 50e3 else 256000, rate=rate, centre_hz=centre,
        band_hz=float(min(rng.uniform(2500, 8000), rate * 0.35)), resonance_hz=centre * float(rng.uniform(0.92, 1.08)),
        q=float(rng.uniform(1, 12)), low_cut_hz=float(rng.uniform(20, 250)), floor_db=float(rng.uniform(-20, -2)),
        reference_db=reference, **common,
    )  # fmt: skip
