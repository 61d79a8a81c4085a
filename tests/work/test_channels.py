"""Of the channels of one recording, the one to believe: the less spoiled, never a line left open."""

import numpy as np
import pytest

from earwitness.hearing.evidence import Judgement
from earwitness.sound.fitness import examine
from earwitness.work.channels import Channel, believed, worth_judging

RATE = 16_000


def noise(rms: float) -> np.ndarray:
    return (rms * np.random.default_rng(0).standard_normal(4 * RATE)).astype(np.float32)


def channels(*sounds: np.ndarray) -> list[Channel]:
    return [Channel(number, examine(sound, RATE)) for number, sound in enumerate(sounds, 1)]


def said(verdict: str, probability: float) -> Judgement:
    return Judgement(verdict, probability, {verdict: probability}, (), "leak", "2")


@pytest.mark.parametrize(
    ("sounds", "worth"),
    [
        ([noise(0.0), noise(0.1), noise(0.01)], [2, 3]),  # a dead one is not fit; 20 dB below may be a safety track
        ([noise(1e-4), noise(0.1)], [2]),  # 60 dB below: a line left open
        ([noise(0.0), noise(0.0)], [1, 2]),  # none is fit: both say why
    ],
)
def test_dead_channels_and_open_lines_are_not_judged(sounds, worth):
    assert [c.number for c in worth_judging(channels(*sounds))] == worth


def test_the_less_spoiled_channel_is_believed_whatever_the_other_says():
    clipped, clean = channels(np.clip(8 * noise(0.1), -1, 1), noise(0.1))
    assert believed([(clipped, said("leak", 0.99)), (clean, said("no-leak-heard", 0.85))])[0] is clean


def test_of_equals_the_decided_the_surer_the_first():
    first, second = channels(noise(0.1), noise(0.1))
    assert believed([(first, said("inconclusive", 0.7)), (second, said("leak", 0.85))])[0] is second
    assert believed([(first, said("leak", 0.85)), (second, said("leak", 0.95))])[0] is second
    assert believed([(first, said("leak", 0.9)), (second, said("leak", 0.9))])[0] is first


def test_equals_that_contradict_each_other_decide_nothing():
    first, second = channels(noise(0.1), noise(0.1))
    _, judgement = believed([(first, said("leak", 0.99)), (second, said("no-leak-heard", 0.85))])
    assert judgement.verdict == "inconclusive" and judgement.settle.code == "channels-disagree"
