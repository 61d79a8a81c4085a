"""What was heard at one reading: the detector of its kind, on the better channel, over every stretch of the recording.

The detectors are told the sound, the levels and the conditions; never the recording's name, the note or the tag.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from earwitness import audio
from earwitness.hearing.evidence import Judgement
from earwitness.plant.assessment import FitnessNote, RecordingUsed
from earwitness.plant.reading import Problem, Reading
from earwitness.plant.survey import Survey
from earwitness.sentence import Sentence, say
from earwitness.sound.heterodyne import busiest_centre, fold
from earwitness.work.channels import Channel, believed, worth_judging
from earwitness.work.detectors import Detector, detector_of
from earwitness.work.listen import WIDE_BAND_HZ, Listened, listen

QUIET = frozenset({"no-leak-heard", "no-passage-heard", "no-fault-heard", "no-discharge-heard", "working"})
SWEPT_KINDS = frozenset({"leak", "seal"})
EXCERPT_SECONDS = 6.0
PLAYED_HZ = 16_000  # of a wide-band recording folded down to be heard


@dataclass(frozen=True)
class Judged:
    """What came of one reading's sound and levels; small enough to be sent between processes."""

    judgement: Judgement | None
    recording: RecordingUsed | None = None
    fit: bool | None = None
    fitness: tuple[FitnessNote, ...] = ()
    problems: tuple[Problem, ...] = ()
    notes: tuple[Sentence, ...] = ()
    excerpt: audio.Excerpt | None = None
    level_db: float | None = None
    background_db: float | None = None
    shared: Shared = ()  # of a recording that several rows name: each row, with what was heard for it


Shared = tuple[tuple[Reading, Judged], ...]


def judge_reading(reading: Reading, survey: Survey, *, exhibits: bool = True) -> Judged:
    """Listen to a reading and judge it; an excerpt to play comes along where `exhibits` are wanted."""
    listened = listen(reading, survey)
    detector = detector_of(reading.kind)
    heard = listened.heard
    if not listened.channels:
        fit = False if reading.recording is not None else None
        return _judged(listened, detector(heard, reading, survey), None, fit=fit)
    judged = [
        (channel, _over_windows(listened, channel, detector, reading, survey))
        for channel in worth_judging(listened.channels)
    ]
    channel, judgement = believed(judged)
    result = _judged(listened, judgement, channel, fit=channel.report.fit)
    if len(listened.channels) > 1:
        text = "Of {count} channels the better one was used: channel {number}."
        said = say("channel-chosen", text, count=len(listened.channels), number=channel.number)
        result = replace(result, notes=(*result.notes, said))
    return replace(result, excerpt=_excerpt(listened, channel, judgement)) if exhibits else result


def unjudged(reading: Reading) -> Judged:
    """For a recording that ended the process which judged it."""
    text = "The recording could not be judged: reading it ended the process. Save it anew as WAV or FLAC."
    sentence = say("recording-breaks", text)
    return Judged(
        None,
        fit=False,
        fitness=(FitnessNote(sentence.code, sentence, ("level", "rhythm", "spectrum")),),
        problems=(Problem(reading.row, "recording", sentence, file=reading.recording),),
    )


def withhold_duplicates(readings: Sequence[Reading], judged: Mapping[int, Judged]) -> dict[int, Judged]:
    """The same recording at different points, or twice for one kind, belongs to one of its rows at most: none of them
    is judged on it, and each knows of the others. A row that repeats another in every cell counts once."""
    out = dict(judged)
    sharing: dict[str, list[Reading]] = {}
    for reading in readings:
        if reading.row in out and (recording := out[reading.row].recording) is not None:
            sharing.setdefault(recording.sha256, []).append(reading)
    for rows in sharing.values():
        own = [r for r in rows if r.repeats is None]
        at_once = len({r.point for r in own}) == 1 and len({r.kind for r in own}) == len(own)  # asked of several kinds
        shared = () if at_once else tuple((r, judged[r.row]) for r in own)
        for reading in rows:
            found = out[reading.row]
            if shared:
                said = _shared_by([r for r in own if r is not reading])
                problem = Problem(reading.row, "recording", said, file=reading.recording)
                out[reading.row] = replace(_withheld(found, said), problems=(*found.problems, problem), shared=shared)
            elif reading.repeats is not None:
                out[reading.row] = _withheld(found, reading.repeats)
    return out


def _shared_by(others: Sequence[Reading]) -> Sentence:
    named = ", ".join(f"{r.reading} (row {r.row})" for r in others)
    text = "The same recording, bit for bit, as that of {others}: whose it is cannot be told; record anew."
    return say("duplicate", text, others=named)


def _withheld(judged: Judged, why: Sentence) -> Judged:
    judgement = judged.judgement
    if judgement is not None:
        undecided = replace(judgement, verdict="inconclusive", probability=None, probabilities={}, settle=why)
        judgement = replace(undecided, severity=None, places=(), notes=())
    note = FitnessNote("duplicate", why, ("level", "rhythm", "spectrum"))
    return replace(judged, judgement=judgement, fit=False, fitness=(*judged.fitness, note), excerpt=None)


def _judged(listened: Listened, judgement: Judgement, channel: Channel | None, *, fit: bool | None) -> Judged:
    recording, notes = None, listened.fitness
    if channel is not None and listened.file is not None:
        f = listened.file
        recording = RecordingUsed(
            listened.name or f.path.name, f.sha256, f.seconds, f.rate_hz, f.channels, channel.number, f.codec
        )
        notes += tuple(FitnessNote(p.code, p.sentence, tuple(sorted(p.spoils))) for p in channel.report.problems)
    return Judged(
        judgement,
        recording,
        fit,
        notes,
        listened.problems,
        listened.notes,
        None,
        listened.heard.level_db,
        listened.heard.background_db,
    )


def _over_windows(
    listened: Listened, channel: Channel, detector: Detector, reading: Reading, survey: Survey
) -> Judgement:
    """One judgement over all stretches of a long recording."""
    judged = [(start, detector(heard, reading, survey)) for start, heard in listened.windows(channel)]
    if not judged:
        return detector(replace(listened.heard, spoiled=channel.report.spoiled), reading, survey)
    if len(judged) == 1:
        return _shifted(*judged[0])
    return _together([_shifted(start, judgement) for start, judgement in judged], reading.kind)


def _shifted(start_s: float, judgement: Judgement) -> Judgement:
    """Places counted from the start of the recording, not of what was left after silence or of the stretch."""
    if start_s == 0 or not judgement.places:
        return judgement
    return replace(judgement, places=tuple(replace(p, at_s=p.at_s + start_s) for p in judgement.places))


def _together(judged: Sequence[Judgement], kind: str) -> Judgement:
    """A sweep has what any stretch of it has; a machine has a fault that at least two stretches agree on."""
    needed = 1 if kind in SWEPT_KINDS else 2
    faults = [j for j in judged if j.verdict not in QUIET and j.verdict != "inconclusive"]
    alike = {v: [j for j in faults if j.verdict == v] for v in sorted({j.verdict for j in faults})}
    common = max(alike.values(), key=len, default=[])
    if len(common) >= needed:
        best = max(common, key=lambda j: j.probability or 0.0)
        places = tuple(p for j in common for p in j.places)
        return replace(best, places=places, notes=(*best.notes, _stretches(len(common), len(judged))))
    if faults or any(j.verdict == "inconclusive" for j in judged):
        unsure = [j for j in judged if j.verdict == "inconclusive"] or faults
        text = "The stretches of this long recording do not agree; a shorter one, taken close by, would settle it."
        settle = unsure[0].settle or say("stretches-disagree", text)
        return replace(unsure[0], verdict="inconclusive", settle=settle, places=())
    least = min(judged, key=lambda j: j.probability or 0.0)
    return replace(least, notes=(*least.notes, _stretches(len(judged), len(judged))))


def _stretches(agree: int, count: int) -> Sentence:
    text = "Judged stretch by stretch: {agree} of {count} stretches say so."
    return say("judged-in-stretches", text, agree=agree, count=count)


def _excerpt(listened: Listened, channel: Channel, judgement: Judgement) -> audio.Excerpt | None:
    """A few seconds to play: around the loudest place of a sweep, else from the middle."""
    if listened.path is None or listened.file is None or judgement.verdict in QUIET:
        return None
    seconds = listened.file.seconds
    loudest = max(judgement.places, key=lambda p: p.level_db, default=None)
    middle = loudest.at_s if loudest else seconds / 2
    start = max(0.0, min(middle - EXCERPT_SECONDS / 2, seconds - EXCERPT_SECONDS))
    try:
        samples = audio.read(listened.path, start_s=start, seconds=EXCERPT_SECONDS)[:, channel.number - 1]
    except audio.AudioError:
        return None
    samples, rate_hz = np.ascontiguousarray(samples), listened.file.rate_hz
    if rate_hz >= WIDE_BAND_HZ:  # nobody hears ultrasound: fold the busiest part of it down
        samples, rate_hz = fold(samples, rate_hz, busiest_centre(samples, rate_hz)), PLAYED_HZ
    return audio.excerpt(samples, rate_hz, EXCERPT_SECONDS, 0.0)
