"""Recordings that the receiver named itself, matched to rows that name none: by time, else by sequence, always shown,
and left unmatched with a problem where it is in doubt."""

from __future__ import annotations

import math
import re
import struct
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from earwitness.intake.files import AUDIO
from earwitness.plant.reading import Problem, Reading
from earwitness.sentence import Sentence, say

NEAR_S = 120.0  # a recording this near in time to a row may belong to it
CLEAR = 3.0  # and does where the next nearest is this many times as far
_STAMP = re.compile(
    r"(?<!\d)(20\d\d)[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12]\d|3[01])[-_.T ]{0,3}"
    r"([01]\d|2[0-3])[-_.h:]?([0-5]\d)(?:[-_.m:]?([0-5]\d))?(?!\d)"
)


@dataclass(frozen=True)
class Stamped:
    """A recording and when it was made; `how` says where that is written."""

    path: str
    when: datetime | None
    how: str = ""

    @property
    def sure(self) -> bool:
        return self.when is not None and self.how != "the file's date"


def stamp(folder: Path, path: str, zone: ZoneInfo | None) -> Stamped:
    """When a recording was made: by its name, its broadcast header, else the date of the file."""
    if match := _STAMP.search(PurePosixPath(path).stem):
        try:
            when = datetime(*(int(part or 0) for part in match.groups()), tzinfo=zone)  # type: ignore[misc,arg-type]
            return Stamped(path, when, "its name")
        except ValueError:
            pass
    if (said := _broadcast_time(folder / path)) is not None:
        return Stamped(path, said.replace(tzinfo=zone), "its broadcast header")
    try:
        changed = datetime.fromtimestamp((folder / path).stat().st_mtime, UTC)
    except (OSError, OverflowError, ValueError):
        return Stamped(path, None)
    return Stamped(path, changed if zone is None else changed.astimezone(zone), "the file's date")


def _broadcast_time(path: Path) -> datetime | None:
    """OriginationDate and OriginationTime of the `bext` chunk (EBU Tech 3285, offsets 320 and 330)."""
    try:
        with path.open("rb") as file:
            head = file.read(12)
            if head[:4] not in (b"RIFF", b"RF64") or head[8:] != b"WAVE":
                return None
            for _ in range(16):
                chunk = file.read(8)
                if len(chunk) < 8:
                    return None
                size = struct.unpack("<I", chunk[4:])[0]
                if chunk[:4] == b"bext":
                    text = file.read(338)[320:].decode("ascii", "replace")
                    return datetime.fromisoformat(f"{text[:10].replace(':', '-')}T{text[10:].replace('-', ':')}")
                if chunk[:4] == b"data":
                    return None
                file.seek(size + size % 2, 1)
    except (OSError, ValueError):
        return None
    return None


def match_unnamed(
    readings: Sequence[Reading], folder: Path, unused: Sequence[str], zone: ZoneInfo | None, file: str
) -> tuple[list[Reading], list[Problem]]:
    """The readings, those without a recording given one of the unused where it is beyond doubt."""
    audio = [path for path in unused if PurePosixPath(path).suffix.casefold() in AUDIO]
    open_rows = [r for r in readings if r.recording is None and r.status == "read" and not _lost_its_name(r)]
    if not audio or not open_rows:
        return list(readings), []
    stamped = [stamp(folder, path, zone) for path in audio]
    pairs, doubts = _by_time(open_rows, stamped, zone)
    if not pairs and not doubts and not any(r.recording or _lost_its_name(r) for r in readings):
        pairs, doubts = _by_sequence(open_rows, stamped)  # only where the sheet names no recording at all
    problems = [Problem(row, "recording", why, file) for row, why in doubts]
    out = []
    for reading in readings:
        own = tuple(problem for problem in problems if problem.row == reading.row)
        if reading.row in pairs:
            one, note = pairs[reading.row]
            reading = replace(reading, recording=one.path, notes=(*reading.notes, note))
        out.append(replace(reading, problems=(*reading.problems, *own)) if own else reading)
    return out, problems


def _lost_its_name(reading: Reading) -> bool:
    """Whether the row named a recording that was not found: nothing else is put in its place."""
    return any(problem.column == "recording" for problem in reading.problems)


Pairs = dict[int, tuple[Stamped, Sentence]]
Doubts = list[tuple[int | None, Sentence]]


def _row_seconds(row: Reading, zone: ZoneInfo | None) -> float:
    if row.taken_at is None or any(note.code == "time-of-day-missing" for note in row.notes):
        return math.inf
    return _seconds(row.taken_at, zone)


def _seconds(when: datetime, zone: ZoneInfo | None) -> float:
    """On one scale: that of the world where the site's zone is known, else that of the clock on its wall."""
    return (when if zone and when.tzinfo else when.replace(tzinfo=UTC)).timestamp()


def _recording_seconds(recording: Stamped, zone: ZoneInfo | None) -> float:
    if recording.when is None or (zone is None and not recording.sure):
        return math.inf  # without the site's zone the file's date says nothing
    return _seconds(recording.when, zone)


def _by_time(rows: Sequence[Reading], recordings: Sequence[Stamped], zone: ZoneInfo | None) -> tuple[Pairs, Doubts]:
    pairs: Pairs = {}
    doubts: Doubts = []
    row_times = np.array([_row_seconds(row, zone) for row in rows])
    file_times = np.array([_recording_seconds(one, zone) for one in recordings])
    for row, when in zip(rows, row_times, strict=True):
        if not math.isfinite(when):
            continue
        at, apart, next_file = _nearest(file_times, when)
        if apart > NEAR_S:
            continue
        _, _, next_row = _nearest(row_times, file_times[at])
        nearest = recordings[at]
        if min(next_file, next_row) > max(CLEAR * apart, 1.0):
            note = say("recording-matched-by-time", "The recording {file} is matched by time: {how} says {when}, "
                       "{apart:.0f} s from the row's.", file=nearest.path, how=nearest.how,
                       when=nearest.when.isoformat(" ", "seconds") if nearest.when else "", apart=apart)  # fmt: skip
            pairs[row.row] = (nearest, note)
        else:
            doubts.append((row.row, say(
                "recording-in-doubt", "row {row}, recording: {file} is {apart:.0f} s from this row, and another row or "
                "recording is as near; write the recording's name.", row=row.row, file=nearest.path, apart=apart,
            )))  # fmt: skip
    return pairs, doubts


def _nearest(times: NDArray[np.float64], when: float) -> tuple[int, float, float]:
    """Which time is nearest, how far it is, and how far the next nearest is."""
    apart = np.abs(times - when)
    at = int(np.argmin(apart))
    nearest = float(apart[at])
    apart[at] = math.inf
    return at, nearest, float(apart.min())


def _by_sequence(rows: Sequence[Reading], recordings: Sequence[Stamped]) -> tuple[Pairs, Doubts]:
    """Row by row in order, where there are as many rows without a name as recordings without a row, and where their
    times, if both have any, keep one distance (the receiver's clock may be wrong, but evenly)."""
    ordered = sorted(recordings, key=lambda r: _natural(r.path))
    in_order = sorted(rows, key=lambda r: r.row)
    count = len(in_order)
    if count != len(ordered):
        return {}, [(None, say(
            "recordings-not-matched", "{rows} rows name no recording and {files} recordings have no row; with unequal "
            "numbers they are not matched by sequence. Write the recordings' names into the rows.",
            rows=count, files=len(ordered),
        ))]  # fmt: skip
    offsets = [
        (row.taken_at.replace(tzinfo=None) - one.when.replace(tzinfo=None)).total_seconds()
        for row, one in zip(in_order, ordered, strict=True)
        if row.taken_at and one.when and one.sure and not any(n.code == "time-of-day-missing" for n in row.notes)
    ]
    if offsets and max(offsets) - min(offsets) > 2 * NEAR_S:
        return {}, [(None, say(
            "recordings-not-matched-times", "{rows} rows name no recording and as many recordings have no row, but "
            "their times do not run alike; they are not matched. Write the recordings' names into the rows.",
            rows=count,
        ))]  # fmt: skip
    pairs: Pairs = {}
    for number, (row, one) in enumerate(zip(in_order, ordered, strict=True), start=1):
        pairs[row.row] = (one, say(
            "recording-matched-by-sequence", "The recording {file} is matched by sequence: number {number} of {count} "
            "recordings without a row, and of as many rows without a recording.",
            file=one.path, number=number, count=count,
        ))  # fmt: skip
    return pairs, []


def _natural(path: str) -> list[tuple[int, str]]:
    """Sorts rec9 before rec10."""
    return [(int(part), "") if part.isdigit() else (-1, part) for part in re.split(r"(\d+)", path.casefold()) if part]
