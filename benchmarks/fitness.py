"""Operating point of the fitness check: false alarms on good recordings, detections of each fault.

    python benchmarks/fitness.py [COUNT] [SEED]

Good recordings: every receiver that `simulate` draws, heterodyned and wide-band, 2 to 12 s, peaks from 30 dB to 1 dB
under full scale, nine sources (steady, swept and pulsing hiss, impacts, tone bursts, bursts gated by the mains, or
nothing) under a mixture of plant noise. The faults are laid on the same recordings. A suppressor and a gate stand in
for those of phones; automatic gain, clipping and pickup are the simulated receiver's own.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import replace

import numpy as np
from scipy import fft

from earwitness.simulate.noise import plant_noise
from earwitness.simulate.receiver import AutomaticGain, Band, Receiver, random_receiver
from earwitness.sound.fitness import examine

SOURCES = ("none", "hiss", "swept", "pulsing", "impacts", "slow-impacts", "tone-bursts", "mains-bursts", "crackle")


def source(name: str, rng: np.random.Generator, seconds: float, band: Band) -> np.ndarray:
    t = band.times(seconds)
    noise = band.noise(rng, seconds)
    if name == "none":
        return band.silence(seconds)
    if name == "hiss":
        return noise
    if name == "swept":
        at, width = rng.uniform(0.2, 0.8) * seconds, rng.uniform(0.1, 1.0)
        return noise * (1 / (1 + ((t - at) / width) ** 2)).astype(np.float32)
    if name == "pulsing":
        on = ((t * rng.uniform(0.4, 3) + rng.random()) % 1) < rng.uniform(0.2, 0.8)
        edge = max(1, round(0.01 * band.rate_hz))
        return noise * np.convolve(on, np.full(edge, 1 / edge), "same").astype(np.float32)
    if name in ("impacts", "slow-impacts", "crackle"):
        rate = rng.uniform(20, 200) if name == "impacts" else rng.uniform(0.5, 8)
        count = max(2, round(rate * seconds))
        times = rng.uniform(0, seconds, count)
        if name != "crackle":
            times = (np.arange(count) + 0.01 * rng.standard_normal(count)) / rate
        sound, ring = band.silence(seconds), 10 ** rng.uniform(-3.5, -2.3)
        for at in times:
            start = round(at * band.rate_hz)
            blow = band.ring(band.centre_hz + 1000, ring, rng.uniform(0, 2 * np.pi)) * np.float32(
                3 * rng.lognormal(0, 0.5)
            )
            if 0 <= start < len(sound):
                sound[start : start + len(blow)] += blow[: len(sound) - start]
        return sound
    if name == "tone-bursts":
        on = ((t * rng.uniform(1, 8)) % 1) < rng.uniform(0.2, 0.7)
        return band.tone(band.centre_hz + rng.uniform(300, 2500), seconds) * on.astype(np.float32)
    phase = (t * rng.choice([100.0, 120.0, 50.0]) + rng.random()) % 1  # mains-bursts
    return 2 * noise * (phase < rng.uniform(0.1, 0.3)).astype(np.float32)


def scene(rng: np.random.Generator, receiver: Receiver, name: str, seconds: float) -> np.ndarray:
    wanted = source(name, rng, seconds, receiver.band) * np.float32(10 ** (rng.uniform(-15, 25) / 20))
    return 0.1 * (wanted + plant_noise(rng, seconds, receiver.band))


def levelled(receiver: Receiver, sound: np.ndarray, rng: np.random.Generator, peak_db: float) -> np.ndarray:
    """The recording with its gain set so that its peak stands at peak_db re full scale."""
    clear = replace(receiver, limit="hard", bits=32, pickup=0.0, agc=None, gain=1e-4)
    peak = float(np.abs(clear.hear_band(sound, np.random.default_rng(1))).max()) / 1e-4
    gain = 10 ** (peak_db / 20) / max(peak, 1e-9)
    return replace(receiver, gain=gain).hear_band(sound, rng)


def good(rng: np.random.Generator) -> tuple[np.ndarray, float, dict]:
    receiver = random_receiver(rng, direct=rng.random() < 0.2)
    seconds = rng.uniform(2, 12) if receiver.signal == "heterodyned" else rng.uniform(2, 4)
    sound = scene(rng, receiver, str(rng.choice(SOURCES)), seconds)
    asked = {"signal": receiver.signal, "sensor": "airborne"}
    return levelled(receiver, sound, rng, rng.uniform(-30, -1)), receiver.rate_hz, asked


def clipped(rng):
    samples, rate, asked = good(rng)
    level = np.quantile(np.abs(samples), 1 - 10 ** rng.uniform(-3.7, -1.3))
    return np.clip(samples, -level, level) / max(level, 1e-9) * 10 ** rng.uniform(-0.5, 0), rate, asked


def dropouts(rng):
    samples, rate, asked = good(rng)
    for _ in range(rng.integers(1, 7)):
        length = round(rng.uniform(0.002, 0.08) * rate)
        at = rng.integers(100, len(samples) - length - 100)
        samples[at : at + length] = 0
    return samples, rate, asked


def automatic_gain(rng, least_swing_db=6.0):
    """Loud events through automatic gain that moves by 6 dB and more (drawn again until it does)."""
    while True:
        receiver = replace(random_receiver(rng), self_noise=1e-4, bits=24)
        seconds = rng.uniform(5, 12)
        name = str(rng.choice(["pulsing", "pulsing", "tone-bursts"]))
        sound = 10 ** (rng.uniform(-8, 10) / 20) * source(name, rng, seconds, receiver.band)
        sound = 0.03 * (sound + 0.1 * plant_noise(rng, seconds, receiver.band))
        agc = AutomaticGain(attack_s=10 ** rng.uniform(-2.5, -1), release_s=10 ** rng.uniform(-1.3, 0.3), most_gain=1e3)
        draw = int(rng.integers(2**32))
        plain = receiver.hear_band(sound, np.random.default_rng(draw))
        samples = replace(receiver, agc=agc).hear_band(sound, np.random.default_rng(draw))
        there = (np.abs(plain) > 1e-4) & (np.abs(samples) < 0.99)
        gain_db = 20 * np.log10(np.abs(samples[there] / plain[there]) + 1e-6)
        low, high = np.quantile(gain_db, [0.1, 0.9]) if len(gain_db) > 100 else (0.0, 0.0)
        if high - low >= least_swing_db:
            return samples, receiver.rate_hz, {"signal": "heterodyned", "sensor": "airborne"}


def suppressed(rng):
    """Spectral subtraction against a tracked noise floor, 20 ms frames, floor at −12 to −30 dB."""
    samples, rate, asked = good(rng)
    size = 2 * round(0.01 * rate)
    hop, window = size // 2, np.sqrt(np.hanning(size + 1)[:-1]).astype(np.float32)
    padded = np.concatenate([samples, np.zeros(size, np.float32)])
    frames = np.lib.stride_tricks.sliding_window_view(padded, size)[::hop] * window
    spectrum = fft.rfft(frames, axis=1)
    power = np.abs(spectrum) ** 2
    noise = np.quantile(power, 0.3, axis=0) * rng.uniform(2.5, 4)
    gain = np.sqrt(np.maximum(1 - noise / (power + 1e-30), 0))
    least, keep = 10 ** (rng.uniform(-30, -12) / 20), rng.uniform(0, 0.6)
    for i in range(1, len(gain)):
        gain[i] = keep * gain[i - 1] + (1 - keep) * gain[i]
    pieces = fft.irfft(spectrum * np.maximum(gain, least), size, axis=1).astype(np.float32) * window
    out = np.zeros(len(frames) * hop + size, np.float32)
    for i, piece in enumerate(pieces):
        out[i * hop : i * hop + size] += piece
    return np.rint(out[: len(samples)] * 32768).astype(np.float32) / 32768, rate, asked


def gated(rng):
    samples, rate, asked = good(rng)
    step = round(0.01 * rate)
    level = np.sqrt(np.mean(samples[: len(samples) // step * step].reshape(-1, step) ** 2, axis=1))
    opened = level > np.quantile(level, rng.uniform(0.2, 0.8))
    smooth = np.convolve(np.repeat(opened, step), np.hanning(step) / (step / 2), "same")
    out = samples[: len(smooth)] * np.minimum(smooth, 1).astype(np.float32)
    return np.rint(out * 32768).astype(np.float32) / 32768, rate, asked


def pickup(rng):
    """Mains lines that hold 1 to 50 % of the power."""
    receiver = random_receiver(rng)
    seconds = rng.uniform(2, 12)
    sound = scene(rng, receiver, str(rng.choice(SOURCES)), seconds)
    samples = levelled(receiver, sound, rng, rng.uniform(-30, -8))
    rms = float(np.std(samples)) * 10 ** (rng.uniform(-20, -3) / 20)
    mains = rng.choice([50.0, 60.0]) * rng.uniform(0.996, 1.004)
    t = np.arange(len(samples)) / receiver.rate_hz
    parts = rng.choice([2, 3, 4, 5, 6, 7], 3, replace=False)
    for k, share in zip((1, *parts), (1, *rng.uniform(0.2, 0.8, 3)), strict=True):
        samples = samples + (share * rms * np.cos(2 * np.pi * (k * mains * t + rng.random()))).astype(np.float32)
    return np.clip(samples, -1, 1), receiver.rate_hz, {"signal": "heterodyned", "sensor": "airborne"}


def offset(rng):
    samples, rate, asked = good(rng)
    return samples + np.float32(rng.uniform(0.7, 3) * np.std(samples)), rate, asked


def stored_lossy(rng):
    """Good recordings through MP3, read back: only `lossy-codec` may be said."""
    import io

    import soundfile

    receiver = random_receiver(rng)
    seconds = rng.uniform(2, 8)
    sound = scene(rng, receiver, str(rng.choice(SOURCES)), seconds)
    samples = levelled(receiver, sound, rng, rng.uniform(-30, -3))
    out = io.BytesIO()
    soundfile.write(out, samples, int(receiver.rate_hz), format="MP3", subtype="MPEG_LAYER_III")
    out.seek(0)
    back = soundfile.read(out, dtype="float32")[0]
    return back, receiver.rate_hz, {"signal": "heterodyned", "sensor": "airborne", "lossy": True}


FAULTS = {
    "clipped": clipped,
    "dropouts": dropouts,
    "automatic-gain": automatic_gain,
    "noise-suppressed": suppressed,
    "noise-suppressed (gate)": gated,
    "mains-pickup": pickup,
    "dc-offset": offset,
    "lossy-codec": stored_lossy,
}


def main(count: int = 1000, seed: int = 0) -> None:
    alarms: Counter[str] = Counter()
    spent = sounded = 0.0
    for i in range(count):
        samples, rate, asked = good(np.random.default_rng([seed, i]))
        began = time.perf_counter()
        report = examine(samples, rate, **asked)
        spent += time.perf_counter() - began
        sounded += len(samples) / rate
        alarms.update(report.codes)
        alarms["any"] += bool(report.codes)
        if report.codes and "-v" in sys.argv:
            print(i, rate, asked["signal"], [p.sentence.text for p in report.problems])
    print(f"{count} good recordings, {sounded:.0f} s of sound in {spent:.1f} s ({sounded / spent:.0f} x real time)")
    print(f"{'check':28} false alarms   found   other faults said")
    for name, fault in FAULTS.items():
        code = name.split(" ")[0]
        few, found, others = max(50, count // 16), 0, Counter()
        for i in range(few):
            samples, rate, asked = fault(np.random.default_rng([seed, 1 + len(name), i]))
            codes = set(examine(samples, rate, **asked).codes)
            found += code in codes
            others.update(codes - {code})
        print(f"{name:28} {alarms[code] / count:11.2%} {found / few:8.1%}   {dict(others)}")
    print(f"{'any':28} {alarms['any'] / count:11.2%}")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:] if a.isdigit()))
