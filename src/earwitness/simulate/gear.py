"""The sound of a pair of gears: a mesh that swells with each meeting of teeth, wear that makes it uneven round the
wheel, a tooth that strikes once a turn; beside it shafts, bearings and the plant (Randall, J. Mech. Design 104 (1982)
259-267)."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.gear import GearMachine
from earwitness.hearing.heard import Heard
from earwitness.simulate import noise
from earwitness.simulate.bearing import _ear, _rung, _shaft, _through_modes
from earwitness.simulate.receiver import Band, Envelope
from earwitness.simulate.simulated import Simulated


def draw(rng: np.random.Generator, *, held_out: bool = False) -> Simulated:
    """One reading of a gear; where a bearing's blows drown it, no listener could tell and the truth says so."""
    truth = str(rng.choice(["tooth", "wear", "no-fault-heard"], p=[0.3, 0.3, 0.4]))
    speed = math.exp(rng.uniform(math.log(5), math.log(50)))
    teeth, mate = int(rng.integers(14, 60)), int(rng.integers(14, 110))
    receiver, seconds, hears = _ear(
        rng, float(max(rng.uniform(4, 12), 30 / min(speed, speed * teeth / mate))), held_out
    )
    band, turn = receiver.band, _shaft(rng, speed, seconds)
    swell = rng.uniform(0.35, 1.3) if truth == "wear" else rng.uniform(0.0, 0.6)  # spur gears swell though sound
    uneven = rng.uniform(0.3, 0.8) if truth == "wear" else rng.uniform(0.0, 0.06)
    scene = _meshing(rng, band, seconds, (turn, teeth, mate), swell, uneven, held_out)
    if hears == "accelerometer":
        tones = _mesh_tones(rng, band, seconds, (turn, teeth, mate), truth == "wear")
        scene = noise._unit(scene + tones * np.float32(10 ** (rng.uniform(-15, 10) / 20)))
    strength = 10 ** (rng.uniform(-5, 10) / 20)
    foreign = truth != "tooth" and rng.random() < 0.15
    if truth == "tooth":
        wheel = turn if rng.random() < 0.6 else turn * teeth / mate
        scene = scene + _struck(rng, band, seconds, wheel, held_out) * np.float32(strength)
    if foreign:
        ratio = rng.uniform(2.5, 9.5)
        ratio = ratio if abs(ratio - round(ratio)) > 0.08 else ratio + 0.2
        foreign_db = rng.uniform(-8, 4)
        struck = _struck(rng, band, seconds, turn * ratio, held_out, jitter=10 ** rng.uniform(-2.7, -1.9))
        scene = scene + struck * np.float32(10 ** (foreign_db / 20))
        truth = truth if foreign_db < -4 else "inconclusive"
    if seconds * min(speed, speed * teeth / mate) < 10:  # a wide-band recording may be too short for a slow wheel
        truth = "inconclusive"
    baseline = float(rng.uniform(20, 50)) if rng.random() < 0.4 else None
    rise = float(rng.normal(0, 1.5)) if truth == "no-fault-heard" else float(rng.uniform(1, 12))
    rms = float(np.sqrt(np.mean(np.abs(scene) ** 2)))
    samples = replace(receiver, gain=float(10 ** rng.uniform(-1.7, -0.9)) / rms).hear_band(scene, rng)
    level = None if baseline is None else baseline + rise
    heard = Heard(
        samples, receiver.rate_hz, receiver.signal, "contact", receiver.centre_hz, level_db=level, baseline_db=baseline
    )
    read_off = speed * (1 + rng.normal(0, 0.0015))
    machine = GearMachine(read_off, teeth, mate if rng.random() < 0.8 else None, float(rng.choice([50, 60])))
    variety = {
        "ear": hears,
        "foreign": foreign,
        "strength_db": 20 * math.log10(strength),
        "swell": swell,
        "rpm": speed * 60,
    }
    return Simulated(heard, machine, truth, variety=variety)


def _meshing(
    rng: np.random.Generator,
    band: Band,
    seconds: float,
    wheels: tuple[NDArray[np.float64], int, int],
    swell: float,
    uneven: float,
    held_out: bool,
) -> Envelope:
    """Rolling and sliding noise that swells with each meeting of teeth; by `uneven` of itself (rms) the swell differs
    round the wheels, as wear makes it."""
    turn, teeth, mate = wheels
    fine = np.interp(np.arange(16 * len(turn)) / 16.0, np.arange(len(turn)), turn)  # 16,000 steps a second
    round_wheel = np.zeros(len(fine))
    met = np.floor(teeth * fine).astype(np.intp)
    for ratio, count in ((1.0, teeth), (teeth / mate, mate)):
        for order in range(1, 9):
            round_wheel += rng.uniform(0.2, 1) / order * np.cos(2 * np.pi * (order * ratio * fine + rng.random())) / 2
        round_wheel += rng.uniform(0, 0.4) * rng.standard_normal(count)[met % count]  # no flank is like the next
    round_wheel /= round_wheel.std()
    meeting = np.cos(2 * np.pi * teeth * fine) + rng.uniform(0, 0.5) * np.cos(
        2 * np.pi * (2 * teeth * fine + rng.random())
    )
    level = 1 + swell * (1 + uneven * round_wheel) * meeting
    for order in (1, 2):  # a shaft that runs a little out of true loads the mesh unevenly
        level *= 1 + rng.uniform(0, 0.15) / order * np.cos(2 * np.pi * (order * fine + rng.random()))
    at = np.linspace(0, len(fine) - 1, band.count(seconds))
    rolling = band.noise(rng, seconds) * np.interp(at, np.arange(len(fine)), np.maximum(level, 0.05)).astype(np.float32)
    sound = noise._unit(_through_modes(rng, band, rolling, held_out, dry=rng.uniform(0.1, 0.6)))
    parts = ["ambience"] + [n for n, p in (("whine", 0.4), ("clatter", 0.1), ("babble", 0.1)) if rng.random() < p]
    around = noise.plant_noise(rng, seconds, band, parts=parts)
    return noise._unit(sound + around * np.float32(10 ** (rng.uniform(-25, -5) / 20)))


def _mesh_tones(
    rng: np.random.Generator,
    band: Band,
    seconds: float,
    wheels: tuple[NDArray[np.float64], int, int],
    worn: bool,
) -> Envelope:
    """What an accelerometer hears besides: the mesh and its multiples as tones, of unit rms. Wear makes the second and
    third grow, and the shafts modulate them in size and phase."""
    turn, teeth, mate = wheels
    count = band.count(seconds)
    angle = np.interp(np.linspace(0, len(turn) - 1, count), np.arange(len(turn)), turn)
    depth = rng.uniform(0.2, 0.8) if worn else rng.uniform(0.0, 0.08)
    sizes = [1.0, *(rng.uniform(0.2, 1.5, 2) if worn else rng.uniform(0.02, 0.6, 2))]
    sound = band.silence(seconds)
    for order, size in enumerate(sizes, 1):
        if order * teeth * (turn[-1] - turn[0]) / seconds > band.centre_hz + 0.45 * band.rate_hz:
            break
        phase = order * teeth * angle + rng.random()
        swing = np.ones(count)
        for ratio in (1.0, teeth / mate):
            swing += depth * rng.uniform(0.3, 1) * np.cos(2 * np.pi * (ratio * angle + rng.random()))
            phase = phase + order * 0.1 * depth * rng.random() * np.sin(2 * np.pi * (ratio * angle + rng.random()))
        turned = np.remainder(phase - band.centre_hz * np.arange(count) / band.rate_hz, 1.0)
        sound += (size * swing * np.exp(2j * np.pi * turned)).astype(np.complex64)
    return noise._unit(sound)


def _struck(
    rng: np.random.Generator,
    band: Band,
    seconds: float,
    turn: NDArray[np.float64],
    held_out: bool,
    jitter: float = 5e-4,
) -> Envelope:
    """One blow for each whole number that `turn` passes, of unit rms."""
    whole = np.arange(math.ceil(turn[0]), math.floor(turn[-1]) + 1)
    steps = 1 + jitter * rng.standard_normal(len(whole))
    at = np.interp(whole[0] - 1 + np.cumsum(steps), turn, np.arange(len(turn)) / 1000.0)
    at = np.clip(at, 0, seconds - 0.01)
    return _rung(rng, band, seconds, (at, rng.lognormal(0, rng.uniform(0.05, 0.35), len(at))), held_out)
