"""How well a site's calibration turns levels into flows, over synthetic truth that the fit does not know: holes of
0.2 to 3 mm, 3 to 10 bar absolute, 0.2 to 3 m, 3 dB scatter, a true slope between 5 and 25 dB a decade of flow, and a
pressure effect of its own; and over sites whose law is curved as that of jets in a narrow band is. Prints coverage of
the 95 % interval, the median error, and the Bayes bound: the error of someone who knows the true law and how holes are
spread.

    python benchmarks/calibration.py [--sites 400]
"""

from __future__ import annotations

import argparse

import numpy as np

from earwitness.gas.calibration import calibrated_flow, fit_calibration
from earwitness.gas.jet_noise import jet_band_power_level

SCATTER_DB = 3.0
ABSORPTION_DB_M = 1.3182  # 40 kHz, 20 degC, 50 % RH (ISO 9613-1)
HOLES_M = (0.2e-3, 3e-3)


class Site:
    """One true law: level = offset + slope log10 flow + tilt log10 pressure - spreading - absorption + scatter."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.slope, self.offset, self.tilt = rng.uniform(5, 25), rng.uniform(60, 120), rng.normal(0, 3)

    def leaks(self, count: int) -> tuple[np.ndarray, ...]:
        hole = np.exp(self.rng.uniform(*np.log(HOLES_M), count))
        pressure = self.rng.uniform(3e5, 10e5, count)
        distance = np.exp(self.rng.uniform(np.log(0.2), np.log(3), count))
        flow = self.flow(hole, pressure)
        return self.level(flow, pressure, distance) + self.rng.normal(0, SCATTER_DB, count), flow, pressure, distance

    @staticmethod
    def flow(hole: np.ndarray, pressure: np.ndarray) -> np.ndarray:
        return 0.85 * np.pi / 4 * hole**2 * pressure * 0.6847 / np.sqrt(287.05 * 293.15)  # choked air [kg/s]

    def level(self, flow: np.ndarray, pressure: np.ndarray, distance: np.ndarray) -> np.ndarray:
        law = self.offset + self.slope * np.log10(flow) + self.tilt * np.log10(pressure / 7e5)
        return law - 20 * np.log10(distance) - ABSORPTION_DB_M * distance

    def best(self, level: np.ndarray, pressure: np.ndarray, distance: np.ndarray) -> np.ndarray:
        """log10 flow of one who knows the law and how holes are spread: the posterior median."""
        hole = np.exp(np.linspace(*np.log(HOLES_M), 400))
        flow = self.flow(hole[None, :], pressure[:, None])
        miss = level[:, None] - self.level(flow, pressure[:, None], distance[:, None])
        weight = np.exp(-0.5 * (miss / SCATTER_DB) ** 2)
        cumulated = np.cumsum(weight, axis=1) / weight.sum(axis=1, keepdims=True)
        return np.log10(flow)[np.arange(len(level)), (cumulated > 0.5).argmax(axis=1)]


class CurvedSite(Site):
    """No straight law at all: a jet's noise in a band around 40 kHz, its peak moved and its level shifted by site."""

    def __init__(self, rng: np.random.Generator) -> None:
        super().__init__(rng)
        self.stretch = rng.lognormal(0, 0.3)

    def level(self, flow: np.ndarray, pressure: np.ndarray, distance: np.ndarray) -> np.ndarray:
        hole = np.sqrt(flow / self.flow(np.ones_like(flow), pressure))
        law = self.offset - 80 + jet_band_power_level(hole * self.stretch, flow, 313.0, centre_hz=4e4, bandwidth_hz=4e3)
        return law - 20 * np.log10(distance) - ABSORPTION_DB_M * distance


def run(sites: int, leaks: int, seed: int = 0, probes: int = 100, kind: type[Site] = Site) -> dict[str, float]:
    rng = np.random.default_rng([seed, leaks])
    inside, error, bound, width = [], [], [], []
    for _ in range(sites):
        site = kind(rng)
        fit = fit_calibration(*site.leaks(leaks), absorption_db_m=ABSORPTION_DB_M)
        level, flow, pressure, distance = site.leaks(probes)
        found = calibrated_flow(fit, level, pressure, distance)
        inside.append((found.low <= flow) & (flow <= found.high))
        error.append(np.abs(np.log10(found.median / flow)))
        bound.append(np.abs(site.best(level, pressure, distance) - np.log10(flow)))
        width.append(np.log10(found.high / found.low) / 2)
    median, best = float(np.median(error)), float(np.median(bound))
    return {
        "coverage": float(np.mean(inside)),
        "median error [decades]": median,
        "Bayes bound [decades]": best,
        "over the bound": median / best,
        "95 % factor": float(10 ** np.median(width)),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sites", type=int, default=400)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    for name, kind in (("straight law", Site), ("curved law", CurvedSite)):
        print(name)
        for leaks in (3, 5, 10, 30, 100):
            row = run(options.sites, leaks, options.seed, kind=kind)
            print(f"{leaks:4d} leaks  " + "  ".join(f"{key} {value:.3f}" for key, value in row.items()))


if __name__ == "__main__":
    main()
