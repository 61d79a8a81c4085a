"""A steam trap that works, blows or is blocked, heard in contact, with levels and temperatures.

The flow through the trap over time makes the sound: hiss through its seat, as loud as the flow; condensate adds a
gurgle, that is, a level that wanders. Temperatures are those of a contact thermometer on the pipe.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.heard import Heard
from earwitness.hearing.trap import TrapState
from earwitness.simulate.leak import heard_scene, jet, varied_background, varied_receiver
from earwitness.simulate.simulated import Simulated

_TYPES = ("thermodynamic", "float", "bucket", "thermostatic")
_CONTROL_HZ = 200.0
_ZERO_C = 273.15


def flow_course(
    rng: np.random.Generator, trap_type: str, truth: str, seconds: float, rapid: bool
) -> NDArray[np.float32]:
    """Amplitude of the sound over time [1], at 200 points a second, of about unit size while it flows."""
    t = np.arange(round(seconds * _CONTROL_HZ)) / _CONTROL_HZ
    wander = np.interp(t, np.arange(0, seconds + 1, 0.4), rng.standard_normal(len(np.arange(0, seconds + 1, 0.4))))
    if truth == "blocked":
        return np.zeros(len(t), np.float32)
    if truth == "blowing" and not rapid:
        return (10 ** (rng.uniform(0, 1.5) * wander / 20)).astype(np.float32)
    if trap_type in ("float", "thermostatic"):
        period = rng.uniform(1.5, 12)
        swell = rng.uniform(3, 8) * np.sin(2 * np.pi * (t / period + rng.random()))
        return (10 ** ((swell + rng.uniform(0.5, 3) * wander) / 20)).astype(np.float32)
    course = np.full(len(t), 10 ** (-rng.uniform(20, 40) / 20))
    period = rng.uniform(0.3, 1.0) if rapid else rng.uniform(5, 14)
    length = period * rng.uniform(0.3, 0.6) if rapid else rng.uniform(0.8, 3)
    edge = 0.01 if trap_type == "thermodynamic" else rng.uniform(0.1, 0.5)
    at = rng.uniform(0, 0.8) * min(period, seconds / 2)
    while at < seconds:
        on = (
            1
            / (1 + np.exp(-np.clip((t - at) / edge, -40, 40)))
            / (1 + np.exp(np.clip((t - at - length) / edge, -40, 40)))
        )
        course = np.maximum(course, on * 10 ** (rng.normal(0, 1) / 20))
        at += period * rng.lognormal(0, 0.03 if rapid else 0.2)
    return (course * 10 ** (rng.uniform(0, 1.5) * wander / 20)).astype(np.float32)


def draw(rng: np.random.Generator, *, held_out: bool = False) -> Simulated:
    """A reading of kind trap."""
    trap_type = str(rng.choice(_TYPES))
    truth = str(rng.choice(["working", "blowing", "blocked"], p=[0.5, 0.3, 0.2]))
    rapid = truth == "blowing" and trap_type == "thermodynamic" and rng.random() < 0.4
    receiver = varied_receiver(rng, direct=False, held_out=held_out)
    seconds = float(rng.uniform(10, 24) if held_out else rng.uniform(10, 20))
    background = varied_background(rng, 2 * seconds + 0.1, receiver.band, held_out=held_out)
    course = flow_course(rng, trap_type, truth, seconds, rapid)
    over = rng.uniform(6, 20) if truth == "working" else rng.uniform(10, 30)
    sound = jet(rng, seconds, receiver.band)
    amplitude = np.interp(np.linspace(0, len(course) - 1, len(sound)), np.arange(len(course)), course)
    source = (sound * amplitude * 10 ** (over / 20)).astype(np.complex64)
    scene = heard_scene(rng, receiver, background, source)
    inlet = rng.uniform(105, 185)
    outlet = rng.uniform(20, 48) if truth == "blocked" else rng.uniform(72, 112)
    temperatures = bool(rng.random() < (1.0 if truth == "blocked" else 0.75))
    recorded = bool(rng.random() < (0.6 if truth == "blocked" else 0.95))
    levels = bool(rng.random() < 0.9)
    heard = Heard(
        samples=scene.samples if recorded else np.zeros(0, np.float32),
        rate_hz=receiver.rate_hz,
        sensor="contact",
        centre_hz=receiver.centre_hz,
        level_db=scene.level_db if levels else None,
    )
    state = TrapState(
        trap_type=trap_type if rng.random() < 0.9 else None,  # type: ignore[arg-type]
        upstream_k=inlet + _ZERO_C if temperatures else None,
        downstream_k=outlet + _ZERO_C if temperatures else None,
        upstream_db=scene.background_db + rng.uniform(-2, 2) if levels else None,
    )
    if not recorded and truth != "blocked":
        truth = "inconclusive"
    if truth == "blowing" and not levels and not rapid:
        truth = "inconclusive"
    variety = {"trap_type": trap_type, "rapid": rapid, "recorded": recorded, "levels": levels, "over_db": over}
    return Simulated(heard, state, truth, (), variety)
