"""From a reading's files to what a detector is given: decode, check fitness, choose channels, cut windows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from earwitness import audio
from earwitness.hearing.heard import Heard, Samples, Sensor, Signal
from earwitness.plant.assessment import FitnessNote
from earwitness.plant.reading import Problem, Reading
from earwitness.plant.survey import Survey
from earwitness.sentence import Sentence, say
from earwitness.sound.fitness import FitnessReport, examine
from earwitness.work.channels import Channel

MOST_SAMPLES = 12_000_000  # judged in one piece: 4 min at 48 kHz; longer recordings are judged window by window
WIDE_BAND_HZ = 96_000  # recorded at this rate or above, and nothing said: the sensor's own waveform
SILENCE = np.zeros(0, np.float32)


@dataclass(frozen=True)
class Listened:
    """What there is to judge of one reading; without a recording the levels alone."""

    heard: Heard  # without samples: everything but the sound
    file: audio.RecordingInfo | None = None
    channels: tuple[Channel, ...] = ()
    background: Samples | None = None  # (frames, channels) at the recording's rate
    path: Path | None = None
    name: str | None = None  # of the recording, as the sheet has it
    problems: tuple[Problem, ...] = ()
    fitness: tuple[FitnessNote, ...] = ()
    notes: tuple[Sentence, ...] = ()

    def windows(self, channel: Channel) -> Iterator[tuple[float, Heard]]:
        """(start [s], heard) for each stretch of the channel that is judged in one piece."""
        if self.path is None or self.file is None:
            return
        start, stop = channel.report.start, channel.report.stop
        heard = replace(self.heard, spoiled=channel.report.spoiled, background=self._background_of(channel))
        count = max(1, -(-(stop - start) // MOST_SAMPLES))
        for number in range(count):
            first = start + (stop - start) * number // count
            last = start + (stop - start) * (number + 1) // count
            rate = self.file.rate_hz
            samples = audio.read(self.path, start_s=first / rate, seconds=(last - first) / rate)
            yield first / rate, replace(heard, samples=np.ascontiguousarray(samples[:, channel.number - 1]))

    def _background_of(self, channel: Channel) -> Samples | None:
        """Of the background's recording the same channel, or its only one."""
        if self.background is None:
            return None
        return np.ascontiguousarray(self.background[:, min(channel.number, self.background.shape[1]) - 1])


def listen(reading: Reading, survey: Survey) -> Listened:
    """Everything the detectors are told about one reading."""
    heard, notes = _levels(reading, survey)
    if reading.recording is None:
        return Listened(heard, notes=notes)
    path = survey.folder / reading.recording
    try:
        file = audio.look(path)
        signal, said = _signal(reading, file.rate_hz)
        channels = _channels(path, file, _Question(reading, survey, signal))
    except audio.AudioError as error:
        problem = Problem(reading.row, "recording", error.sentence, file=reading.recording)
        return Listened(heard, problems=(problem,), fitness=(_unreadable(error.sentence),), notes=notes)
    heard = replace(heard, signal=signal, rate_hz=file.rate_hz)
    background, problems = _background(reading, survey, file.rate_hz)
    notes = (*notes, *said)
    return Listened(heard, file, channels, background, path, reading.recording, problems, (), notes)


def _levels(reading: Reading, survey: Survey) -> tuple[Heard, tuple[Sentence, ...]]:
    """The displayed levels, the gain setting taken off those that were read with it."""
    gain = reading.gain_db or 0.0

    def less_gain(level: float | None) -> float | None:
        return None if level is None else level - gain

    sensor: Sensor | None = "contact" if reading.sensor == "contact" else "airborne" if reading.sensor else None
    heard = Heard(
        SILENCE,
        48_000.0,
        sensor=sensor,
        centre_hz=reading.centre_hz,
        level_db=less_gain(reading.level_db),
        background_db=less_gain(reading.background_db),
        baseline_db=reading.baseline_db,
        reference_db=reading.reference_db,
    )
    text = "The gain setting of {gain:g} dB is taken off the levels that were read with it."
    return heard, (say("gain-taken-off", text, gain=gain),) if gain else ()


@dataclass(frozen=True)
class _Question:
    """What a recording is asked, and what is known of how it was taken."""

    reading: Reading
    survey: Survey
    signal: Signal

    def examined(self, blocks: Iterable[Samples], file: audio.RecordingInfo) -> FitnessReport:
        r = self.reading
        return examine(
            blocks,
            file.rate_hz,
            kind=r.kind,
            signal=self.signal,
            sensor="contact" if r.sensor == "contact" else "airborne" if r.sensor else None,
            lossy=file.lossy,
            frames_promised=file.frames_promised,
            cut_short=file.cut_short,
            mains_hz=r.mains_hz,
            speed_hz=r.machine.speed_hz,
        )


def _channels(path: Path, file: audio.RecordingInfo, question: _Question) -> tuple[Channel, ...]:
    """Fitness of each channel; one that repeats the first is left out. Long files are read in blocks."""
    if file.frames * file.channels <= MOST_SAMPLES:
        whole = list(audio.blocks(path))  # with what is no number, for the check to count
        samples = np.concatenate(whole) if whole else np.zeros((0, file.channels), np.float32)
        columns = [np.ascontiguousarray(samples[:, c]) for c in range(samples.shape[1])]
        distinct = [
            c for c in range(len(columns)) if c == 0 or not np.array_equal(columns[c], columns[0], equal_nan=True)
        ]
        return tuple(Channel(c + 1, question.examined([columns[c]], file)) for c in distinct)
    return tuple(
        Channel(c + 1, question.examined((block[:, c] for block in audio.blocks(path)), file))
        for c in range(file.channels)
    )


def _signal(reading: Reading, rate_hz: float) -> tuple[Signal, tuple[Sentence, ...]]:
    if reading.signal is not None:
        return ("direct" if reading.signal == "direct" else "heterodyned"), ()
    if rate_hz >= WIDE_BAND_HZ:
        text = "Recorded at {khz:g} kHz and not said otherwise: read as the sensor's own waveform (direct)."
        return "direct", (say("signal-inferred-direct", text, khz=rate_hz / 1000),)
    text = "Recorded at {khz:g} kHz and not said otherwise: read as heterodyned audio of the receiver."
    return "heterodyned", (say("signal-inferred-heterodyned", text, khz=rate_hz / 1000),)


def _background(reading: Reading, survey: Survey, rate_hz: float) -> tuple[Samples | None, tuple[Problem, ...]]:
    """The background's recording (frames, channels) at the same rate, one minute of it at most."""
    if reading.background_recording is None:
        return None, ()
    try:
        path = survey.folder / reading.background_recording
        file = audio.look(path)
        return audio.resample(audio.read(path, seconds=60.0), file.rate_hz, rate_hz), ()
    except audio.AudioError as error:
        return None, (Problem(reading.row, "background_recording", error.sentence, reading.background_recording),)


def _unreadable(sentence: Sentence) -> FitnessNote:
    return FitnessNote(sentence.code, sentence, ("level", "rhythm", "spectrum"))
