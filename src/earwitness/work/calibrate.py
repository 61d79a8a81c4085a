"""The site's own calibration: a sheet of leaks of known size that were listened to.

A survey folder that holds calibration.csv (or .xlsx) uses it for its compressed-air leaks.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from earwitness.errors import EarwitnessError, InputError
from earwitness.gas.absorption import air_absorption
from earwitness.gas.calibration import Calibration, fit_calibration
from earwitness.gas.gases import find_gas
from earwitness.gas.opening import flow_through_opening
from earwitness.intake import readings_of
from earwitness.interval import Z_95
from earwitness.plant.reading import MeasuredFlow, Problem, Reading
from earwitness.plant.survey import Survey
from earwitness.sentence import say
from earwitness.work.size import measured_mass_flow

COLUMNS = ("level_db", "distance_m", "pressure", "flow")
NAMES = ("calibration.csv", "calibration.xlsx")
CENTRE_HZ, TEMPERATURE_K, HUMIDITY, AMBIENT_ABS = 40_000.0, 293.15, 0.5, 101_325.0


@dataclass(frozen=True)
class SiteCalibration:
    calibration: Calibration
    problems: tuple[Problem, ...]

    @property
    def factor(self) -> float:
        """Within this factor either way a flow inside the calibrated range is known, at 95 % (the scatter alone)."""
        return float(10 ** (Z_95 * self.calibration.scatter_decades))

    def as_json(self) -> dict[str, Any]:
        c = self.calibration
        return {
            "leaks": c.leaks,
            "slope_db_per_decade": round(c.slope_db_decade, 1),
            "scatter_decades": round(c.scatter_decades, 3),
            "factor_95": round(self.factor, 2),
            "notes": [n.as_json() for n in c.notes],
            "problems": [p.as_json() for p in self.problems],
        }


def calibrate(sheet: Path, survey: Survey | None = None) -> SiteCalibration:
    """Fit the calibration that a sheet of known leaks gives. Columns as in the field sheet: level_db, distance_m,
    pressure, and flow (measured) or opening_mm."""
    ambient = (survey and survey.conditions.ambient_pressure_abs) or AMBIENT_ABS
    readings, problems = readings_of(sheet, "leak", ",".join(COLUMNS), ambient)
    rows = []
    for r in readings:
        try:
            rows.append(_row(r))
        except InputError as error:
            text = "row {row}: not used for the calibration: {error}."
            problems.append(Problem(r.row, None, say("calibration-row", text, row=r.row, error=str(error)), sheet.name))
    if not rows:
        raise EarwitnessError(
            f"{sheet.name} has no usable row; level_db, distance_m, pressure and flow or opening_mm are needed"
        )
    level, flow, pressure, distance = (list(column) for column in zip(*rows, strict=True))
    return SiteCalibration(fit_calibration(level, flow, pressure, distance, _absorption(survey)), tuple(problems))


def calibration_of(survey: Survey) -> SiteCalibration | None:
    """The calibration sheet that lies in the survey's folder, else the site's own leaks, fitted; None without both."""
    for name in NAMES:
        if (survey.folder / name).is_file():
            return calibrate(survey.folder / name, survey)
    return _of_known_leaks(survey) if survey.known_leaks else None


def _of_known_leaks(survey: Survey) -> SiteCalibration:
    """The leaks that the site's settings hold, fitted as a sheet of them would be."""
    air, leaks = find_gas("air"), survey.known_leaks
    flow = [measured_mass_flow(MeasuredFlow(k.flow_m3_s, "m3/s", f"{k.flow_m3_s} m3/s"), air).median for k in leaks]
    level, pressure = [k.level_db for k in leaks], [k.pressure_abs for k in leaks]
    return SiteCalibration(
        fit_calibration(level, flow, pressure, [k.distance_m for k in leaks], _absorption(survey)), ()
    )


def _row(r: Reading) -> tuple[float, float, float, float]:
    for name, value in (("level_db", r.level_db), ("distance_m", r.distance_m), ("pressure", r.pressure_abs)):
        if value is None:
            raise InputError(name, "empty", "noted for each calibration leak")
    assert r.level_db is not None and r.distance_m is not None and r.pressure_abs is not None
    air = find_gas(r.medium or "air")
    if r.flow is not None:
        flow = measured_mass_flow(r.flow, air).median
    elif r.opening_m is not None:
        flow = float(flow_through_opening(air, r.pressure_abs, diameter=r.opening_m).mass_flow)
    else:
        raise InputError("flow", "empty", "measured, or an opening_mm of known size")
    return r.level_db - (r.gain_db or 0.0), flow, r.pressure_abs, r.distance_m


def _absorption(survey: Survey | None) -> float:
    if survey is None:
        return float(air_absorption(CENTRE_HZ, TEMPERATURE_K, HUMIDITY, AMBIENT_ABS))
    c = survey.conditions
    return float(
        air_absorption(
            survey.instrument.centre_hz or CENTRE_HZ,
            c.temperature_k or TEMPERATURE_K,
            HUMIDITY if c.humidity is None else c.humidity,
            c.ambient_pressure_abs or AMBIENT_ABS,
        )
    )
