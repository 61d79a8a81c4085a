"""The sound of a rolling bearing, from its mechanism, as a receiver or an accelerometer hears it.

A fault is struck at an angle of its own (the parts' kinematics, with slip that wanders), each blow weighted by the
load that the struck place carries (Stribeck's load zone), and rings the housing's resonances (McFadden & Smith, JSV 96
(1984) 69-82; random slip: Antoni & Randall, J. Vib. Acoust. 125 (2003) 282). Round it: rolling noise, a little
modulated by shaft and cage in any machine, tones of shaft, gears and fans, mains hum, knocks, and the plant's noise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from earwitness.hearing.bearing import BearingMachine
from earwitness.hearing.geometry import DefectOrders, boundary_diameters, defect_orders
from earwitness.hearing.heard import Heard
from earwitness.simulate import noise
from earwitness.simulate.receiver import Band, Envelope, Receiver, random_receiver
from earwitness.simulate.simulated import Simulated

TRUTHS = ("outer-race", "inner-race", "rolling-element", "cage", "irregular", "friction", "no-fault-heard")
_SHARES = (0.16, 0.14, 0.12, 0.06, 0.10, 0.12, 0.30)
_ACCELEROMETER_RATES_HZ = (12e3, 16e3, 20e3, 25.6e3, 44.1e3, 48e3, 51.2e3)
_ACCELEROMETER_RATES_HELD_HZ = (12e3, 20e3, 25.6e3, 32e3, 48e3, 64e3, 97.656e3)
_CODES = ("6003", "6005", "6008", "6202", "6203", "6205", "6206", "6208", "6210", "6305", "6308", "6310", "6312")


@dataclass(frozen=True)
class Bearing:
    """The true parts and how it turns. slip : cage lag, ratio; jitter : spread of each interval, ratio."""

    rolling_elements: int
    element_m: float
    pitch_m: float
    contact_angle_rad: float
    speed_hz: float
    slip: float
    jitter: float
    designation: str | None = None

    @property
    def orders(self) -> DefectOrders:
        """As it really runs: slip lets the cage lag, outer-race strikes fall, inner-race strikes rise."""
        o = defect_orders(self.rolling_elements, self.element_m, self.pitch_m, self.contact_angle_rad)
        cage = o.cage * (1 - self.slip)
        n = self.rolling_elements
        return DefectOrders(cage, n * cage, n * (1 - cage), o.spin * (1 - self.slip))


def draw(rng: np.random.Generator, *, held_out: bool = False) -> Simulated:
    """One reading of a bearing out of the variety."""
    truth = str(rng.choice(TRUTHS, p=_SHARES))
    bearing = _bearing(rng)
    slow = bearing.speed_hz < 100 / 60
    seconds = float(rng.uniform(25, 45) / min(1.0, bearing.speed_hz * 1.2)) if slow else float(rng.uniform(3, 12))
    receiver, seconds, hears = _ear(rng, seconds, held_out)
    band = receiver.band
    turn = _shaft(rng, bearing.speed_hz, seconds)
    background = _machine(rng, band, seconds, turn, bearing, held_out)
    strength = 10 ** (rng.uniform(-7, 10) / 20) if not slow else 10 ** (rng.uniform(-3, 10) / 20)
    scene = background
    if truth not in ("friction", "no-fault-heard"):
        blows = _blows(rng, truth, bearing, turn, seconds, held_out)
        struck = _rung(rng, band, seconds, blows, held_out)
        if truth == "rolling-element" and rng.random() < 0.3:  # it has begun to mark a race as well
            other = str(rng.choice(["outer-race", "inner-race"]))
            marked = _rung(rng, band, seconds, _blows(rng, other, bearing, turn, seconds, held_out), held_out)
            struck = struck + marked * np.float32(10 ** (rng.uniform(-14, -5) / 20))
        scene = scene + struck * np.float32(strength)
    level, baseline = _levels(rng, truth, strength)
    rms = float(np.sqrt(np.mean(np.abs(scene) ** 2)))
    receiver = replace(receiver, gain=float(10 ** rng.uniform(-1.7, -0.9)) / max(rms, 1e-9))
    samples = receiver.hear_band(scene, rng)
    heard = Heard(
        samples, receiver.rate_hz, receiver.signal, "contact", receiver.centre_hz, level_db=level, baseline_db=baseline
    )
    machine, known = _known(rng, bearing)
    variety = {
        "ear": hears,
        "known": known,
        "strength_db": 20 * math.log10(strength),
        "rpm": bearing.speed_hz * 60,
        "seconds": seconds,
        "slip": bearing.slip,
        "rate_hz": receiver.rate_hz,
    }
    return Simulated(heard, machine, truth, variety=variety)


def _bearing(rng: np.random.Generator) -> Bearing:
    designation = str(rng.choice(_CODES))
    bore, outside = boundary_diameters(designation) or (0.02, 0.047)
    pitch = (bore + outside) / 2 * rng.uniform(0.99, 1.02)
    element = rng.uniform(0.285, 0.315) * (outside - bore)
    count = round(0.585 * math.pi * pitch / element + rng.uniform(-0.6, 0.6))
    angle = 0.0 if rng.random() < 0.6 else rng.uniform(0.1, 0.45)
    if rng.random() < 0.25:  # a roller bearing, or another series
        designation, count, gamma = "", int(rng.integers(10, 19)), rng.uniform(0.1, 0.2)
        element = gamma * pitch
    speed = rng.uniform(30, 95) if rng.random() < 0.08 else math.exp(rng.uniform(math.log(300), math.log(3600)))
    slip = abs(rng.normal(0, 0.007)) if rng.random() < 0.9 else rng.uniform(0.01, 0.03)
    jitter = 10 ** rng.uniform(-3.0, -1.6) if rng.random() < 0.9 else rng.uniform(0.03, 0.06)
    return Bearing(count, element, pitch, angle, speed / 60, min(slip, 0.029), jitter, designation or None)


def _ear(rng: np.random.Generator, seconds: float, held_out: bool) -> tuple[Receiver, float, str]:
    seconds = math.ceil(2 * seconds) / 2  # lengths that transform fast
    kind = rng.random() if seconds < 15 else 0.92 * rng.random()  # long at 500 kHz is nothing but slow
    if kind < 0.55:
        receiver = random_receiver(rng, agc=rng.random() < 0.2)
        return replace(receiver, audio_low_hz=min(receiver.audio_low_hz, 150.0)), seconds, "heterodyned"
    if kind < 0.92:
        rates = _ACCELEROMETER_RATES_HELD_HZ if held_out else _ACCELEROMETER_RATES_HZ
        receiver = Receiver(
            rate_hz=float(rng.choice(rates)),
            signal="direct",
            floor=1.0,
            self_noise=float(10 ** rng.uniform(-5, -3)),
            bits=int(rng.choice([16, 24])),
        )
        return receiver, seconds, "accelerometer"
    return random_receiver(rng, direct=True), min(seconds, 4.0), "wide-band"


def _shaft(rng: np.random.Generator, speed_hz: float, seconds: float) -> NDArray[np.float64]:
    """The shaft's angle in turns at 1,000 steps a second: its speed wanders by some parts in a thousand."""
    wander = 10 ** rng.uniform(-4.0, -2.6) * noise._wander(rng, seconds, 0.3)
    return rng.random() + np.cumsum(speed_hz * (1 + wander)) / 1000.0


def _machine(
    rng: np.random.Generator, band: Band, seconds: float, turn: NDArray[np.float64], bearing: Bearing, held_out: bool
) -> Envelope:
    """Everything but the fault, of unit rms: rolling noise coloured by the housing, swelling a little with the
    shaft, its multiples (blades, lobes) and the cage; tones; hum; knocks; plant noise."""
    level = np.ones(len(turn))
    for order in (1, 2, 3):
        level += rng.uniform(0, 0.15) / order * np.cos(2 * np.pi * (order * turn + rng.random()))
    if rng.random() < 0.35:  # a fan or pump with so many blades
        blades = int(rng.integers(3, 10))
        for harmonic in (1, 2, 3):
            level += rng.uniform(0.05, 0.4) / harmonic * np.cos(2 * np.pi * (harmonic * blades * turn + rng.random()))
    level += rng.uniform(0, 0.06) * np.cos(2 * np.pi * (bearing.orders.cage * turn + rng.random()))
    if rng.random() < 0.2:  # magnetic hum
        mains = float(rng.choice([50, 60]))
        t = np.arange(len(turn)) / 1000.0
        for harmonic in (1, 2):
            level += rng.uniform(0.05, 0.3) / harmonic * np.cos(2 * np.pi * (2 * mains * harmonic * t + rng.random()))
    rolling = band.noise(rng, seconds) * noise._spread(np.maximum(level, 0.1), band.count(seconds))
    if held_out and rng.random() < 0.5:  # grainy: noise whose strength flickers fast
        grain = np.repeat(rng.gamma(4.0, 0.25, len(turn) // 4 + 1), 4)[: len(turn)]
        rolling = rolling * noise._spread(np.sqrt(grain), len(rolling))
    rolling = _through_modes(rng, band, rolling, held_out, dry=rng.uniform(0.1, 0.6))
    parts = ["ambience"]
    for name, share in (("whine", 0.4), ("clatter", 0.12), ("babble", 0.1), ("exhaust-puffs", 0.08)):
        if rng.random() < share:
            parts.append(name)
    if held_out and rng.random() < 0.1:
        parts.append("compressor-rumble")
    around = noise.plant_noise(rng, seconds, band, parts=parts)
    scene = noise._unit(rolling) + around * np.float32(10 ** (rng.uniform(-25, -4) / 20))
    if rng.random() < 0.5:
        scene = scene + _mesh(rng, band, seconds, turn) * np.float32(10 ** (rng.uniform(-20, 3) / 20))
    return noise._unit(scene)


def _mesh(rng: np.random.Generator, band: Band, seconds: float, turn: NDArray[np.float64]) -> Envelope:
    """Tones of a gear on the shaft: mesh harmonics with the shaft's sidebands, and the shaft's own multiples."""
    speed = (turn[-1] - turn[0]) * 1000.0 / max(len(turn) - 1, 1)
    teeth = int(rng.integers(15, 90))
    sound = band.silence(seconds)
    centre = band.centre_hz
    angle = noise._spread(turn - np.arange(len(turn)) * speed / 1000.0, len(sound))
    for _ in range(int(rng.integers(1, 5))):
        order = teeth * int(rng.integers(1, max(2, int((centre + band.rate_hz / 2) / max(teeth * speed, 1)) + 1)))
        for side in (-1, 0, 1):
            strength = (1.0 if side == 0 else rng.uniform(0, 0.4)) * 10 ** (rng.uniform(-10, 0) / 20)
            tone = band.tone((order + side) * speed, seconds, rng.uniform(0, 6.28))
            sound += np.float32(strength) * tone * np.exp(2j * np.pi * (order + side) * angle).astype(np.complex64)
    return noise._unit(sound)


def _blows(
    rng: np.random.Generator, truth: str, bearing: Bearing, turn: NDArray[np.float64], seconds: float, held_out: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Times [s] and strengths of the blows."""
    if truth == "irregular":
        return _without_rhythm(rng, seconds)
    orders = bearing.orders
    order = {
        "outer-race": orders.outer,
        "inner-race": orders.inner,
        "rolling-element": orders.element,
        "cage": orders.cage,
    }[truth]
    count = int((turn[-1] - turn[0]) * order) + 1
    jitter = bearing.jitter
    if truth == "rolling-element":
        jitter *= 1 + 2 * (rng.random() < 0.4)
    steps = (1 + jitter * rng.standard_normal(count)) / order
    at_turn = turn[0] + rng.random() / order + np.cumsum(steps)
    at_s = np.interp(at_turn, turn, np.arange(len(turn)) / 1000.0, right=np.inf)
    strength = rng.lognormal(0, rng.uniform(0.05, 0.5), count)
    if truth in ("outer-race", "inner-race"):  # the elements are not alike: the pattern comes again with the cage
        unlike = rng.lognormal(0, rng.uniform(0, 0.4), bearing.rolling_elements)
        strength *= np.resize(unlike, count)
    zone, power = rng.uniform(0.3, 1.2), 1.1 if not held_out else 1.5
    if truth == "outer-race":
        strength *= np.maximum(1 + rng.uniform(0, 0.5) * np.cos(2 * np.pi * at_turn), 0.1)
    elif truth == "inner-race":
        strength *= rng.uniform(0, 0.3) + _load(at_turn, zone) ** power
    elif truth == "rolling-element":
        strength *= rng.uniform(0, 0.3) + _load(at_turn * orders.cage, zone) ** power
        strength[1::2] *= rng.uniform(0.3, 1.0)  # on the other race
        strength *= _turned_over(rng, at_s, seconds)
    inside = at_s < seconds
    return at_s[inside], strength[inside]


def _load(turns: NDArray[np.float64], zone: float) -> NDArray[np.float64]:
    """Stribeck: the share of the greatest load carried at an angle; zone 0.5 loads half the circle."""
    return np.maximum(1 - (1 - np.cos(2 * np.pi * turns)) / (2 * zone), 0.0)


def _turned_over(rng: np.random.Generator, at_s: NDArray[np.float64], seconds: float) -> NDArray[np.float64]:
    """A ball that turns over shows its fault for a while, and then not; a roller always does."""
    if rng.random() < 0.5:
        return np.ones(len(at_s))
    shown = 0.5 + 0.5 * np.tanh(2 * (noise._wander(rng, seconds, rng.uniform(0.3, 2.0)) + rng.uniform(0, 0.8)))
    return np.interp(at_s, np.arange(len(shown)) / 1000.0, shown)


def _without_rhythm(rng: np.random.Generator, seconds: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Clicks and grinding: at no particular time, of unequal strength, single or in small groups."""
    rate = 10 ** rng.uniform(0.5, 1.7)
    at = np.sort(rng.uniform(0, seconds, 4 + rng.poisson(rate * seconds)))
    if rng.random() < 0.4:
        groups = [a + np.cumsum(rng.exponential(0.01, int(rng.integers(1, 5)))) for a in at]
        at = np.concatenate(groups)
        at = np.sort(at[at < seconds])
    return at, rng.lognormal(0, rng.uniform(0.3, 0.8), len(at))


def _rung(
    rng: np.random.Generator,
    band: Band,
    seconds: float,
    blows: tuple[NDArray[np.float64], NDArray[np.float64]],
    held_out: bool,
) -> Envelope:
    """The blows through the housing, of unit rms."""
    at, strength = blows
    train = band.silence(seconds)
    index = np.minimum((at * band.rate_hz).astype(np.intp), len(train) - 1)
    phase = np.exp(-2j * np.pi * np.remainder(band.centre_hz * at, 1.0))
    np.add.at(train, index, (strength * phase).astype(np.complex64))
    return noise._unit(_through_modes(rng, band, train, held_out))


def _through_modes(rng: np.random.Generator, band: Band, sound: Envelope, held_out: bool, dry: float = 0.0) -> Envelope:
    """One to four resonances of housing and sensor, wherever this band hears."""
    offsets = fft.fftfreq(len(sound), 1 / band.rate_hz)
    response = np.full(len(sound), dry, np.complex64)
    for _ in range(int(rng.integers(1, 5))):
        middle = band.somewhere(rng) if band.centre_hz > 15e3 else rng.uniform(0.08, 0.95) * 2 * band.centre_hz
        q = 10 ** (rng.uniform(1.3, 2.0) if held_out else rng.uniform(0.7, 1.5))
        width = middle / q if band.rate_hz < 60e3 or held_out else middle / q / 2
        response += (rng.uniform(0.2, 1) / (1 + 2j * (offsets + band.centre_hz - middle) / width)).astype(np.complex64)
    return np.asarray(fft.ifft(fft.fft(sound) * response), np.complex64)


def _levels(rng: np.random.Generator, truth: str, strength: float) -> tuple[float | None, float | None]:
    """Displayed level and the point's baseline; half of the readings have none, save where friction is the truth."""
    if truth != "friction" and rng.random() < 0.5:
        return None, None
    baseline = rng.uniform(15, 50)
    if truth == "friction":
        rise = rng.uniform(8, 25)
    elif truth == "no-fault-heard":
        rise = rng.normal(0, 1.8)
    else:
        rise = 10 * math.log10(1 + strength**2) + rng.uniform(0, 8)
    return float(baseline + rise), float(baseline)


def _known(rng: np.random.Generator, bearing: Bearing) -> tuple[BearingMachine, str]:
    """What the inspector wrote down of it."""
    read_off = bearing.speed_hz * (1 + (rng.normal(0, 0.0015) if rng.random() < 0.85 else rng.uniform(-0.012, 0.012)))
    what: dict[str, Any] = {"speed_hz": read_off if rng.random() < 0.92 else None}
    kind = rng.random()
    if kind < 0.65 or (kind < 0.8 and bearing.designation is None):
        what |= {
            "rolling_elements": bearing.rolling_elements,
            "element_m": bearing.element_m,
            "pitch_m": bearing.pitch_m,
            "contact_angle_rad": bearing.contact_angle_rad,
        }
        known = "parts"
    elif kind < 0.8:
        what["designation"], known = bearing.designation, "designation"
    elif kind < 0.9:
        what["rolling_elements"], known = bearing.rolling_elements, "count"
    else:
        known = "nothing"
    if what["speed_hz"] is None:
        known += ", no speed"
    return BearingMachine(**what, mains_hz=float(rng.choice([50, 60])) if rng.random() < 0.7 else None), known
