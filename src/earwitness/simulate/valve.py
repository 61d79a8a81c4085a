"""A closed valve that passes or holds, by the levels along its pipe and the sound at it.

The seat of a passing valve is a source; its noise fades along the pipe both ways, faster upstream, where it has to go
through the valve's body. Noise from a pump, an elbow or another valve runs past it from either side. Levels are read
with a contact probe, to about a decibel.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from earwitness.hearing.heard import Heard
from earwitness.hearing.valve import ValveState
from earwitness.simulate import noise
from earwitness.simulate.leak import heard_scene, jet, varied_background, varied_receiver
from earwitness.simulate.simulated import Simulated

_PLACES = ("upstream", "at", "downstream", "beyond")


def draw(rng: np.random.Generator, *, held_out: bool = False) -> Simulated:
    """A reading of kind valve: passing, or holding: in quiet, with noise from upstream or beyond, or puffs near."""
    case = str(
        rng.choice(["passing", "quiet", "from-upstream", "from-beyond", "puffs"], p=[0.5, 0.15, 0.15, 0.12, 0.08])
    )
    power = dict.fromkeys(_PLACES, 0.0)
    floor = rng.uniform(5, 25)
    for place in _PLACES:
        power[place] += 10 ** ((floor + rng.normal(0, 1.0)) / 10)
    if case == "passing":
        seat = floor + rng.uniform(8, 35)
        _add(power, seat, at=0.0, upstream=rng.uniform(5, 14), downstream=rng.uniform(-2, 4), beyond=rng.uniform(6, 16))
    if case == "from-upstream" or (case == "passing" and rng.random() < 0.2):
        loud = floor + rng.uniform(0, 10 if case == "passing" else 30)
        step = rng.uniform(0, 5, 3).cumsum()
        _add(power, loud, upstream=0.0, at=step[0], downstream=step[1], beyond=step[2])
    if case == "from-beyond":
        step = rng.uniform(0, 6, 3).cumsum()
        _add(power, floor + rng.uniform(5, 30), beyond=0.0, downstream=step[0], at=step[1], upstream=step[2])
    spread = rng.uniform(0.4, 1.5)
    level = {place: 10 * np.log10(p) + rng.normal(0, spread) for place, p in power.items()}
    read_beyond = bool(rng.random() < (0.9 if case == "from-beyond" else 0.65))
    read_at, read_downstream = bool(rng.random() < 0.88), bool(rng.random() < 0.9)
    read_downstream |= not read_at
    heard = _recording(rng, case, level["at"] - floor, held_out) if rng.random() < 0.7 else None
    if heard is not None and read_at:
        heard = replace(heard, level_db=level["at"])
    state = ValveState(
        upstream_db=level["upstream"],
        downstream_db=level["downstream"] if read_downstream else None,
        beyond_db=level["beyond"] if read_beyond else None,
        position_commanded="closed",
        pressure_across=True,
        level_db=level["at"] if read_at else None,
    )
    truth = "passing" if case == "passing" else "no-passage-heard"
    return Simulated(heard or _levels_only(), state, truth, (), {"case": case, "recorded": heard is not None})


def _add(power: dict[str, float], source_db: float, **loss_db: float) -> None:
    for place, loss in loss_db.items():
        power[place] += 10 ** ((source_db - loss) / 10)


def _levels_only() -> Heard:
    return Heard(np.zeros(0, np.float32), 48_000.0)


def _recording(rng: np.random.Generator, case: str, over_db: float, held_out: bool) -> Heard:
    receiver = varied_receiver(rng, direct=False, held_out=held_out)
    seconds = float(rng.uniform(3, 12))
    background = varied_background(rng, 2 * seconds + 0.1, receiver.band, held_out=held_out)
    loud = np.float32(10 ** (max(over_db, 0.0) / 20))
    if case == "puffs":
        source = noise.exhaust_puffs(rng, seconds, receiver.band) * np.float32(10 ** (rng.uniform(5, 20) / 20))
    elif case == "quiet":
        source = receiver.band.silence(seconds)
    elif case in ("from-upstream", "from-beyond") and rng.random() < 0.5:
        source = noise.whine(rng, seconds, receiver.band) * loud
    else:
        source = jet(rng, seconds, receiver.band) * loud
    scene = heard_scene(rng, receiver, background, source.astype(np.complex64))
    return Heard(scene.samples, receiver.rate_hz, sensor="contact", centre_hz=receiver.centre_hz)
