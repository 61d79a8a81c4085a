"""An invented site: the Quillmark oat works. Its survey folder, as an inspector would have left it on a Friday, with
some things wrong on purpose. No firm, person or place of this name is meant.

Each row of the sheet is the cells as typed and the scene behind the recording. Levels of leaks follow from the hole,
the pressure and the distance by jet noise and absorption; what is heard is that scene through one receiver.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from earwitness.audio import write_wav
from earwitness.simulate import scenes
from earwitness.simulate.receiver import Audio

RATE_HZ = 48_000
HALL = "Filling hall"
Scene = Callable[[np.random.Generator], Audio]
Progress = Callable[[int, int], None]

SURVEY_TOML = """\
# The Quillmark oat works is invented; so is everything below.
[survey]
title = "Autumn round"
site = "Quillmark oat works"
date = 2026-11-20
inspector = "Demo inspector"
qualification = "ultrasound, category 1 (demo)"

[instrument]
receiver = "demo receiver"
serial = "D-0001"
sensor = "air probe and contact probe"
centre_khz = 40
last_check = "2026-11-20, fixed source, within 1 dB"
level_ref = "dB re 20 uPa"

[site]
mains_hz = 50
temperature = "18 degC"
humidity = 0.55
ambient_pressure = "1003 hPa"
timezone = "Europe/Berlin"

[energy]
price = "0.19 EUR/kWh"
carbon = "0.36 kg/kWh"

[air]
pressure = "7 bar(g)"
hours_per_year = 6200
average_load = 0.62

[[compressor]]
name = "screw 1"
capacity = "11.5 m3/min"
specific_power = "6.6 kW/(m3/min)"
control = "load-unload"
storage = "3 m3"

[[compressor]]
name = "screw 2"
capacity = "7.2 m3/min"
specific_power = "6.9 kW/(m3/min)"
control = "variable-speed"
storage = "3 m3"

[[gas]]
name = "LPG"
price = "1.30 EUR/kg"

[[gas]]
name = "nitrogen"
price = "0.28 EUR/m3"
"""


@dataclass(frozen=True)
class Row:
    """One reading: its cells, the scene it was recorded from, and what is wrong with the file on purpose."""

    cells: dict[str, str]
    scene: Scene | None = None
    spoil: Callable[[Audio], Audio] | None = None
    truth: str | None = None  # what the scene is; for tests, never written into the folder

    @property
    def name(self) -> str:
        return self.cells["reading"]


def leak(name: str, hole_mm: float, distance_m: float, background_db: float, *, bar: float = 7.0, **cells: str) -> Row:
    """An air leak through a hole that the inspector could not see; the level is what the receiver would show."""
    level = scenes.leak_level_db(hole_mm / 1000, bar * 1e5 + 100_300.0, distance_m, background_db)
    about = {
        "kind": "leak",
        "medium": cells.pop("medium", "air"),
        "pressure": cells.pop("pressure", f"{bar:g} bar(g)"),
        "level_db": f"{level:.0f}",
        "background_db": f"{background_db:.0f}",
        "distance_m": f"{distance_m:g}",
        "attachment": cells.pop("attachment", "none"),
        "sensor": "airborne",
    }
    return Row({"reading": name, **about, **cells}, scenes.hiss(level - background_db), truth="leak")


def rows() -> list[Row]:
    """The sheet in the order of the walk."""
    return [*_filling_hall(), *_stores(), *_doors_and_tanks(), *_machines(), *_switchroom(), *_wrong_on_purpose()]


def _filling_hall() -> list[Row]:
    a = {"area": HALL}
    return [
        leak("A-001", 0.8, 0.5, 34, point="Line 1 service unit", component="quick coupling", tag="T-101",
             craft="fitter", repair_hours="0.5", location="left of the guard door, lower coupling", area=HALL),
        leak("A-002", 1.4, 0.5, 36, point="Line 1 capper", component="hose", tag="T-102", craft="fitter",
             repair_hours="1", location="hose to the second cylinder", area=HALL),
        leak("A-003", 0.5, 0.4, 35, point="Line 2 valve island", component="push-in fitting", tag="T-103",
             craft="fitter", repair_hours="0.5", location="fourth outlet from the top", area=HALL),
        leak("A-004", 1.2, 0.5, 38, point="Line 2 air knife", component="air knife", cause="deliberate",
             location="over the belt after the washer", area=HALL),
        Row({"reading": "A-005", "kind": "leak", "point": "Line 3 service unit", "medium": "air",
             "pressure": "7 bar(g)", "level_db": "36", "background_db": "36",
             "distance_m": "0.5", "attachment": "none", "sensor": "airborne", **a},
            scenes.ambient(), truth="no-leak-heard"),
        Row({"reading": "A-006", "kind": "leak", "point": "Sack placer", "medium": "air", "pressure": "6 bar(g)",
             "level_db": "44", "background_db": "43", "distance_m": "0.5", "attachment": "none", "sensor": "airborne",
             "note": "cylinder exhausts every second or so", **a}, scenes.puffs(), truth="no-leak-heard"),
        leak("A-007", 1.0, 1.5, 33, point="Ring main, column C4", component="flange", tag="T-104", access="lift",
             craft="fitter", repair_hours="2", isolation="ring main north", location="flange above the cable tray",
             area=HALL),
    ]  # fmt: skip


def _stores() -> list[Row]:
    return [
        leak("A-008", 0.6, 0.4, 33, bar=1.5, point="Truck filling post", component="hose coupling", tag="T-105",
             area="Gas store", medium="LPG", pressure="1.5 bar(g)", place="indoors", room_m3="38",
             ventilation="60 m3/h", location="coupling under the weather hood", reported_to="shift lead",
             reported_at="2026-11-20T09:40"),
        leak("A-009", 0.7, 0.5, 34, bar=6.0, point="Silo blanketing panel", component="regulator", tag="T-106",
             area="Silo cellar", medium="nitrogen", pressure="6 bar(g)", place="indoors", craft="fitter",
             repair_hours="1.5", location="regulator bonnet"),
        Row({"reading": "A-010", "kind": "leak", "point": "Dryer burner train", "medium": "natural gas", "pressure":
             "100 mbar(g)", "level_db": "35", "background_db": "35", "distance_m": "0.4", "attachment": "none",
             "sensor": "airborne", "area": "Kiln house", "place": "indoors"}, scenes.ambient(), truth="no-leak-heard"),
    ]  # fmt: skip


def _doors_and_tanks() -> list[Row]:
    return [
        Row({"reading": "S-001", "kind": "seal", "point": "Cold store door 2", "component": "door seal", "tag": "T-201",
             "area": "Cold store", "sensor": "airborne", "sweep_length_m": "6.0", "sweep_marks": "0:0 12:6.0",
             "craft": "fitter", "repair_hours": "2", "location": "hinge side and threshold"},
            scenes.tone_sweep(places_s=(3.6, 8.3), seconds=12.0), truth="passage"),
        Row({"reading": "S-002", "kind": "seal", "point": "Flake bin 4 inspection hatch", "component": "hatch",
             "area": "Mill floor", "sensor": "airborne", "sweep_length_m": "2.4"},
            scenes.tone_sweep(places_s=(), seconds=9.0), truth="no-passage-heard"),
        Row({"reading": "S-003", "kind": "seal", "point": "Dust duct 7, clean-out cover", "component": "cover",
             "tag": "T-202", "area": "Mill floor", "sensor": "airborne", "sweep_length_m": "1.8"},
            scenes.tone_sweep(places_s=(5.1,), seconds=9.0), truth="passage"),
    ]  # fmt: skip


BEARING_6205 = {
    "kind": "bearing", "sensor": "contact", "bearing": "6205", "rolling_elements": "9", "element_mm": "7.94",
    "pitch_mm": "39.04", "contact_angle_deg": "0", "outside_mm": "52", "width_mm": "15",
}  # fmt: skip


def bearing(name: str, point: str, fault: str, level: str, baseline: str, **cells: str) -> Row:
    """A bearing of the mill floor at its usual speed and load."""
    about = {"reading": name, "point": point, "level_db": level, "baseline_db": baseline, "area": "Mill floor"}
    cells = {**about, **BEARING_6205, "speed_rpm": "1480", "load_percent": "80", **cells}
    return Row(cells, scenes.bearing(fault), truth=fault)


def _machines() -> list[Row]:
    return [
        bearing("B-001", "Exhauster 1, drive end", "no-fault-heard", "24", "23"),
        bearing("B-002", "Exhauster 2, drive end", "outer-race", "37", "23", tag="T-301", craft="millwright",
                repair_hours="6", shutdown="yes"),
        bearing("B-003", "Roller mill 3, feed side", "inner-race", "35", "24", tag="T-302", craft="millwright",
                repair_hours="8", shutdown="yes"),
        bearing("B-004", "Conveyor 5, tail pulley", "friction", "34", "22", tag="T-303", craft="greaser",
                repair_hours="0.5"),
        bearing("B-005", "Sifter 2, eccentric", "no-fault-heard", "25", "24"),
        Row({"reading": "B-006", "point": "Exhauster 3, drive end", "status": "not-running", "area": "Mill floor",
             **BEARING_6205, "speed_rpm": "1480"}),
    ]  # fmt: skip


def _switchroom() -> list[Row]:
    a = {"kind": "electrical", "sensor": "airborne", "area": "Switchroom", "mains_hz": "50"}
    return [
        Row({"reading": "E-001", "point": "20 kV panel 3, cable box", "voltage_v": "20 kV", "tag": "T-401", **a},
            scenes.discharge("corona"), truth="corona"),
        Row({"reading": "E-002", "point": "6 kV motor feeder 2", "voltage_v": "6 kV", "tag": "T-402", **a},
            scenes.discharge("tracking"), truth="tracking"),
        Row({"reading": "E-003", "point": "Transformer T2, dry type", "voltage_v": "20 kV", **a},
            scenes.discharge("mains-hum"), truth="mains-hum"),
        Row({"reading": "E-004", "point": "400 V main board, section B", "voltage_v": "400 V", "tag": "T-403", **a},
            scenes.discharge("arcing"), truth="arcing"),
        Row({"reading": "E-005", "point": "20 kV panel 1, cable box", "voltage_v": "20 kV", **a},
            scenes.ambient(), truth="no-discharge-heard"),
    ]  # fmt: skip


def _wrong_on_purpose() -> list[Row]:
    return [
        Row(leak("A-011", 1.1, 0.5, 35, point="Line 4 blow-off", component="hose", tag="T-107", area=HALL).cells,
            scenes.hiss(25.0), spoil=scenes.clipped, truth="leak"),
        leak("A-012", 0.9, 0.5, 35, point="Line 4 service unit", pressure="7 bananas", tag="T-108", area=HALL),
        Row({"reading": "A-013", "kind": "leak", "point": "Line 4 capper", "medium": "air", "recording": "rec-0913.wav",
             "pressure": "7 bar(g)", "area": HALL}),
        Row({**_filling_hall()[1].cells, "recording": "A-002.wav"}),  # the same row typed twice
    ]  # fmt: skip


def write_site(folder: Path, seed: int = 0, jobs: int = 1, progress: Progress | None = None) -> None:
    """Write the survey folder: survey.toml, readings.csv, recordings/. The same bytes for the same seed."""
    write_folder(folder, SURVEY_TOML, rows(), (seed,), jobs, progress)


def write_folder(
    folder: Path,
    survey_toml: str,
    sheet: Sequence[Row],
    seeds: tuple[int, ...],
    jobs: int = 1,
    progress: Progress | None = None,
) -> None:
    """A survey folder from its rows; a row's recording is drawn from `seeds` and its place in the sheet."""
    recordings = folder / "recordings"
    recordings.mkdir(parents=True, exist_ok=True)
    lines = [dict(row.cells) for row in sheet]
    heard = [number for number, row in enumerate(sheet) if row.scene is not None]
    for number in heard:
        lines[number]["recording"] = f"{lines[number]['reading']}.wav"
    with ThreadPoolExecutor(jobs) as pool:
        work = partial(_record, recordings, seeds, sheet)
        for done, _ in enumerate(pool.map(work, heard), 1):
            if progress:
                progress(done, len(heard))
    (folder / "survey.toml").write_text(survey_toml, encoding="utf-8")
    (folder / "readings.csv").write_text(_sheet(lines), encoding="utf-8", newline="")


def _record(recordings: Path, seeds: tuple[int, ...], sheet: Sequence[Row], number: int) -> None:
    row = sheet[number]
    assert row.scene is not None
    samples = row.scene(np.random.default_rng([*seeds, number]))
    write_wav(recordings / f"{row.name}.wav", row.spoil(samples) if row.spoil else samples, RATE_HZ, 16)


def _sheet(lines: list[dict[str, str]]) -> str:
    columns = list(dict.fromkeys(column for line in lines for column in line))
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(lines)
    return out.getvalue()
