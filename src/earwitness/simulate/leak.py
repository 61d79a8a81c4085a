"""A leak, or none, as a receiver hears it in a plant: jet noise through the sensor's band, held or swept past, among
machines that whine, people, things that knock, and exhausts that puff.

A small jet's noise is broadband and Gaussian, flat to gently sloped over any one receiver's band (its spectrum peaks
near St = f·D/U = 0.2: a hole of 1.6 mm at 40 kHz). Led past at speed v and distance d, the sensor hears
1/(1 + (vt/d)²).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from earwitness.hearing.heard import Heard, Samples
from earwitness.hearing.leak import LeakState
from earwitness.simulate import noise
from earwitness.simulate.receiver import AUDIO_RATES_HZ, WIDE_RATES_HZ, Band, Envelope, Receiver, random_receiver
from earwitness.simulate.simulated import Simulated

# what no weight is fitted on
HELD_OUT_PARTS = ("modulated-noise", "compressor-rumble")
HELD_OUT_RATES_HZ = (11_025.0, 22_050.0, 256_000.0)
_DECOYS = ("whine", "babble", "clatter", "exhaust-puffs", "reversing-beeper", "two-tones")
_REPEATABILITY_DB = 0.7


@dataclass(frozen=True)
class Scene:
    """What a receiver made of a background and a source: the recording, the background alone, and both levels."""

    samples: Samples
    background: Samples
    level_db: float
    background_db: float


def jet(rng: np.random.Generator, seconds: float, band: Band) -> Envelope:
    """Jet noise of unit rms: Gaussian, sloped by up to 6 dB over the band, fluttering by a few tenths of a dB."""
    spectrum = fft.fft(band.noise(rng, seconds))
    hz = np.abs(fft.fftfreq(len(spectrum), 1 / band.rate_hz).astype(np.float32) + np.float32(band.centre_hz)) + 100.0
    peak = np.float32(10 ** rng.uniform(np.log10(15e3), np.log10(120e3)))
    ratio = hz / peak
    spectrum *= (ratio / (1 + ratio**2)) ** np.float32(rng.uniform(0.3, 1.0))  # rising below the peak, falling above it
    sound = fft.ifft(spectrum)
    rms = np.sqrt(np.mean(np.square(np.abs(sound))))
    return np.asarray(sound / np.float32(rms + 1e-12), np.complex64)


def passing_by(seconds: float, count: int, at_s: float, width_s: float) -> NDArray[np.float32]:
    """Amplitude heard of a source as the probe passes it at `at_s`; half the power at ± width_s / 2."""
    t = np.linspace(0, seconds, count, dtype=np.float32)
    return (1 / np.sqrt(1 + ((t - at_s) / (width_s / 2)) ** 2)).astype(np.float32)


def varied_receiver(rng: np.random.Generator, *, direct: bool, held_out: bool) -> Receiver:
    """A receiver from the part of the variety that is fitted on, or from all of it."""
    receiver = random_receiver(rng, direct=direct)
    if not held_out:
        rates = [r for r in (WIDE_RATES_HZ if direct else AUDIO_RATES_HZ) if r not in HELD_OUT_RATES_HZ]
        while receiver.rate_hz not in rates:
            receiver = random_receiver(rng, direct=direct)
    return receiver


def varied_background(rng: np.random.Generator, seconds: float, band: Band, *, held_out: bool) -> Envelope:
    """Plant noise from the part of the variety that is fitted on, or from all of it."""
    others = [p for p in noise.PARTS if p not in ("ambience", "two-tones")]
    if not held_out:
        others = [p for p in others if p not in HELD_OUT_PARTS]
    parts = ["ambience", *rng.choice(others, int(rng.integers(0, 4)), replace=False)]
    return noise.plant_noise(rng, seconds, band, parts=parts)


def heard_scene(
    rng: np.random.Generator, receiver: Receiver, background: Envelope, source: Envelope, *, loudest: bool = False
) -> Scene:
    """Half of `background` under the source, the other half alone; gain as an inspector would set it.

    With `loudest` the displayed level is that of the loudest half second, else of the whole.
    """
    n = len(source)
    scene_rms = np.float32(10 ** (rng.uniform(-45, -15) / 20))
    under, alone = background[:n] * scene_rms, background[n : 2 * n] * scene_rms
    together = under + source * scene_rms
    # heard at a gain that cannot clip, then turned up as an inspector would, to just below clipping at most
    low = replace(receiver, gain=0.02, bits=24, limit="hard")
    loud, quiet = low.hear_band(together, rng), low.hear_band(alone, rng)
    aim = 10 ** (rng.uniform(-38, -14) / 20) / float(np.sqrt(np.mean(np.square(loud))) + 1e-9)
    gain = min(aim, 0.9 / max(float(np.abs(loud).max()), 1e-9))
    samples, quiet = (
        _quantised(loud * np.float32(gain), receiver.bits),
        _quantised(quiet * np.float32(gain), receiver.bits),
    )
    offset = rng.uniform(20, 80) - 20 * np.log10(gain * scene_rms)
    level = _level(samples, receiver.rate_hz, loudest) + offset + rng.normal(0, _REPEATABILITY_DB)
    before = _level(quiet, receiver.rate_hz, False) + offset + rng.normal(0, _REPEATABILITY_DB)
    return Scene(samples, quiet, float(level), float(before))


def draw(rng: np.random.Generator, *, held_out: bool = False) -> Simulated:
    """A reading of kind leak: held or swept leak, ambient, or a decoy; with levels, a background, or neither."""
    direct = bool(rng.random() < 0.15)
    receiver = varied_receiver(rng, direct=direct, held_out=held_out)
    seconds = float(np.exp(rng.uniform(np.log(3), np.log(5 if direct else 20))))
    background = varied_background(rng, 2 * seconds + 0.1, receiver.band, held_out=held_out)
    case = str(rng.choice(["held", "swept", "ambient", "decoy"], p=[0.3, 0.2, 0.25, 0.25]))
    source, places, about = _source(rng, case, seconds, receiver.band)
    scene = heard_scene(rng, receiver, background, source, loudest=case == "swept")
    reference = str(rng.choice(["levels", "background", "both", "none"], p=[0.55, 0.2, 0.15, 0.1]))
    recorded = bool(rng.random() > 0.06)
    heard = Heard(
        samples=scene.samples if recorded else np.zeros(0, np.float32),
        rate_hz=receiver.rate_hz,
        signal=receiver.signal,
        sensor="airborne",
        centre_hz=receiver.centre_hz,
        background=scene.background if reference in ("background", "both") and recorded else None,
        level_db=scene.level_db if reference in ("levels", "both") else None,
        background_db=scene.background_db if reference in ("levels", "both") else None,
    )
    truth = "leak" if case in ("held", "swept") else "no-leak-heard"
    levels = reference in ("levels", "both")
    if recorded and reference == "none" and case in ("held", "ambient"):
        truth = "inconclusive"  # a steady hiss with nothing to hold it against
    if not recorded and not (levels and truth == "leak" and scene.level_db > scene.background_db + 10):
        truth = "inconclusive"  # a level alone
    swept = case == "swept" or (case in ("ambient", "decoy") and bool(rng.random() < 0.3))
    if swept and case == "ambient" and recorded:
        truth = "no-leak-heard"  # the sweep is its own background
    variety = {"case": case, "reference": reference, "recorded": recorded, "rate_hz": receiver.rate_hz, **about}
    return Simulated(heard, LeakState(swept=swept or None), truth, places if recorded else (), variety)


def _source(
    rng: np.random.Generator, case: str, seconds: float, band: Band
) -> tuple[Envelope, tuple[float, ...], dict[str, Any]]:
    """What sounds besides the background, relative to it; where it is loudest; what was drawn."""
    if case == "ambient":
        return band.silence(seconds), (), {"over_db": None}
    if case == "decoy":
        name = str(rng.choice(_DECOYS))
        over = rng.uniform(0, 25)
        return (
            noise.PARTS[name](rng, seconds, band) * np.float32(10 ** (over / 20)),
            (),
            {"decoy": name, "over_db": over},
        )
    over = rng.uniform(3, 28)
    sound = jet(rng, seconds, band) * np.float32(10 ** (over / 20))
    if case == "held":
        return sound, (), {"over_db": over}
    speed = rng.uniform(0.08, 0.5)  # m/s along the pipe, at 5 to 30 cm
    width = float(np.clip(2 * rng.uniform(0.05, 0.3) / speed, 0.3, seconds / 3))
    count = int(rng.choice([1, 1, 1, 2]))
    at = np.sort(rng.uniform(0.1, 0.9, count)) * seconds
    if count == 2 and at[1] - at[0] < 2.5 * width:
        at = at[:1]
    gains = np.concatenate([[1.0], 10 ** (rng.uniform(-6, 0, 1) / 20)])[: len(at)]
    course = np.sqrt(
        sum((g * passing_by(seconds, len(sound), float(a), width)) ** 2 for g, a in zip(gains, at, strict=True))
    )
    return (sound * course).astype(np.complex64), tuple(float(a) for a in at), {"over_db": over, "width_s": width}


def _quantised(samples: Samples, bits: int) -> Samples:
    full = np.float32(2 ** (bits - 1))
    return np.clip(np.rint(samples * full), -full, full - 1) / full


def _level(samples: Samples, rate_hz: float, loudest: bool) -> float:
    power = np.square(samples, dtype=np.float64)
    if loudest:
        block = round(0.5 * rate_hz)
        whole = len(power) // block * block
        power = power[:whole].reshape(-1, block).mean(axis=1).max(keepdims=True)
    return float(10 * np.log10(power.mean() + 1e-20))
