"""The scenes behind the invented site's recordings, each through the same receiver, in its own plant noise."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from earwitness.gas.absorption import air_absorption
from earwitness.gas.jet_noise import jet_band_power_level
from earwitness.gas.opening import flow_through_opening
from earwitness.simulate import discharge as discharges
from earwitness.simulate import noise
from earwitness.simulate.bearing import Bearing
from earwitness.simulate.leak import jet, passing_by
from earwitness.simulate.receiver import Audio, Envelope, Receiver
from earwitness.simulate.seal import emitter

Scene = Callable[[np.random.Generator], Audio]
RECEIVER = Receiver(centre_hz=40_013.0, rate_hz=48_000.0, band_hz=8_000.0, self_noise=0.0008, gain=1.0)
SECONDS = 8.0
NOISE_RMS = 0.006  # the hall through the receiver
MAINS_HZ = 50.0
SONIC = 316.0  # speed of a choked air jet where it leaves [m/s]


def leak_level_db(hole_m: float, pressure_abs: float, distance_m: float, background_db: float) -> float:
    """Level that the receiver shows for an air leak over its background [dB re 20 µPa]."""
    flow = float(flow_through_opening("air", pressure_abs, diameter=hole_m).mass_flow)
    power = float(jet_band_power_level(hole_m, flow, SONIC, centre_hz=40_000.0, bandwidth_hz=4_000.0))
    absorbed = float(air_absorption(40_000.0, 291.15, 0.55, 100_300.0)) * distance_m
    alone = power - 10 * math.log10(4 * math.pi) - 20 * math.log10(distance_m) - absorbed
    return 10 * math.log10(10 ** (alone / 10) + 10 ** (background_db / 10))


def _hall(rng: np.random.Generator, seconds: float, *others: str) -> Envelope:
    return noise.plant_noise(rng, seconds, RECEIVER.band, parts=["ambience", *others]) * np.float32(NOISE_RMS)


def _over(sound: Envelope, decibel: float) -> Envelope:
    """A sound of unit rms so many dB over the hall."""
    return sound * np.float32(NOISE_RMS * 10 ** (decibel / 20))


def ambient() -> Scene:
    return lambda rng: RECEIVER.hear_band(_hall(rng, SECONDS, "clatter", "whine"), rng)


def puffs() -> Scene:
    def scene(rng: np.random.Generator) -> Audio:
        blown = _over(noise.exhaust_puffs(rng, SECONDS, RECEIVER.band), 9.0)
        return RECEIVER.hear_band(_hall(rng, SECONDS) + blown, rng)

    return scene


def hiss(over_db: float) -> Scene:
    """A leak over the hall; where it is loud the inspector has turned the gain down."""

    def scene(rng: np.random.Generator) -> Audio:
        sound = _hall(rng, SECONDS, "whine") + _over(jet(rng, SECONDS, RECEIVER.band), over_db)
        gain = min(1.0, 0.15 / (NOISE_RMS * 10 ** (over_db / 20)))
        return replace(RECEIVER, gain=gain).hear_band(sound, rng)

    return scene


def tone_sweep(places_s: tuple[float, ...], seconds: float) -> Scene:
    def scene(rng: np.random.Generator) -> Audio:
        tone = emitter(rng, seconds, RECEIVER.band, "on-off", heard_hz=1_700.0)
        course = np.zeros(len(tone), np.float32)
        for number, place in enumerate(places_s):
            strength = np.float32(10 ** (-(14 + 3 * number) / 20) * 3)
            course = np.hypot(course, strength * passing_by(seconds, len(tone), place, 0.8))
        return RECEIVER.hear_band(_hall(rng, seconds, "babble") + _over((tone * course).astype(np.complex64), 12), rng)

    return scene


def discharge(which: str) -> Scene:
    source = {
        "corona": discharges.corona,
        "tracking": discharges.tracking,
        "arcing": discharges.arcing,
        "mains-hum": discharges.hum,
    }[which]

    def scene(rng: np.random.Generator) -> Audio:
        sound = source(rng, SECONDS, RECEIVER.band, MAINS_HZ)
        sound = (sound / np.sqrt(np.mean(np.abs(sound) ** 2))).astype(np.complex64)
        return RECEIVER.hear_band(_hall(rng, SECONDS) + _over(sound, 14.0), rng)

    return scene


BALL_BEARING = Bearing(9, 7.94e-3, 39.04e-3, 0.0, 1480 / 60, slip=0.006, jitter=0.004)


def bearing(fault: str) -> Scene:
    """A ball bearing 6205 on a shaft at 1480 rpm, heard by contact: rolling noise and the blows of its fault."""

    def scene(rng: np.random.Generator) -> Audio:
        band = RECEIVER.band
        sound = _hall(rng, SECONDS) * np.float32(0.3)
        sound += _over(band.noise(rng, SECONDS), 12.0 if fault == "friction" else 0.0)
        if fault in ("outer-race", "inner-race"):
            blows = _blows(rng, fault)
            sound += _over((blows / np.sqrt(np.mean(np.abs(blows) ** 2))).astype(np.complex64), 9.0)
        return RECEIVER.hear_band(sound, rng)

    return scene


def _blows(rng: np.random.Generator, fault: str) -> Envelope:
    """A fault struck once an element; one on the inner race is loaded once a turn of the shaft."""
    band, orders, speed = RECEIVER.band, BALL_BEARING.orders, BALL_BEARING.speed_hz
    rate = (orders.outer if fault == "outer-race" else orders.inner) * speed
    count = int(SECONDS * rate)
    times = np.cumsum(1 + BALL_BEARING.jitter * rng.standard_normal(count)) / rate
    loaded = np.ones(count)
    if fault == "inner-race":
        loaded = np.maximum(0.15, np.cos(2 * np.pi * speed * times)) ** 1.5
    sound, ring = band.silence(SECONDS), band.ring(41_800.0, 0.0006)
    for start, strength in zip((times * band.rate_hz).astype(int), loaded, strict=True):
        part = ring[: max(0, len(sound) - start)]
        sound[start : start + len(part)] += np.float32(strength) * part
    return sound


def clipped(samples: Audio) -> Audio:
    """What a gain set far too high leaves."""
    loudest = np.quantile(np.abs(samples), 0.8)
    return np.clip(samples / np.float32(loudest), -1.0, 1.0).astype(np.float32)
