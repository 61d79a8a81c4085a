"""Judge a folder of real bearing records and print what was right, unsure and misleading.

python benchmarks/bearing_records.py DIR [--known given|count|nothing] [--no-speed]

DIR holds readings.csv and recordings/ as a survey folder does, and truth.csv (reading, fault). Read by plain code, not
through the intake, so that only the detector is measured. Accelerometer records prove the method of bearing analysis,
not the case of heterodyned sound.
"""

from __future__ import annotations

import argparse
import csv
import math
from collections import Counter
from pathlib import Path

import soundfile

from earwitness.hearing.bearing import BearingMachine, judge
from earwitness.hearing.heard import Heard


def machine_of(row: dict[str, str], known: str, speed: bool) -> BearingMachine:
    def number(column: str) -> float | None:
        return float(row[column]) if row.get(column) else None

    rpm, count = number("speed_rpm"), number("rolling_elements")
    element, pitch, angle = number("element_mm"), number("pitch_mm"), number("contact_angle_deg")
    given = known == "given"
    return BearingMachine(
        speed_hz=rpm / 60 if rpm and speed else None,
        rolling_elements=int(count) if count and known != "nothing" else None,
        element_m=element / 1000 if element and given else None,
        pitch_m=pitch / 1000 if pitch and given else None,
        contact_angle_rad=math.radians(angle or 0.0) if given else None,
        designation=row.get("bearing") or None,
        mains_hz=number("mains_hz"),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--known", choices=("given", "count", "nothing"), default="given", help="of the bearing")
    parser.add_argument("--no-speed", action="store_true", help="withhold the speed")
    options = parser.parse_args()
    with (options.folder / "truth.csv").open(newline="", encoding="utf-8") as file:
        truth = {row["reading"]: row["fault"] for row in csv.DictReader(file)}
    counts: Counter[str] = Counter()
    with (options.folder / "readings.csv").open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            samples, rate = soundfile.read(options.folder / "recordings" / row["recording"], dtype="float32")
            heard = Heard(samples, rate, signal="direct", sensor="contact")
            result = judge(heard, machine_of(row, options.known, not options.no_speed))
            expected = truth[row["reading"]]
            fate = (
                "right"
                if result.verdict == expected
                else "unsure"
                if result.verdict == "inconclusive"
                else "MISLEADING"
            )
            counts[fate] += 1
            likeliest = sorted(result.probabilities.items(), key=lambda item: -item[1])[:2]
            odds = ", ".join(f"{verdict} {p:.0%}" for verdict, p in likeliest)
            print(f"{row['reading']:28} {expected:16} {result.verdict:16} {fate:10} {odds}")
    print(", ".join(f"{fate} {count}" for fate, count in sorted(counts.items())))


if __name__ == "__main__":
    main()
