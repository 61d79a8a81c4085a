"""A two-hour recording must not need its size in memory."""

from __future__ import annotations

import subprocess
import sys

import numpy as np

from earwitness.audio import write_wav

RATE, HOURS = 48_000, 0.1  # 35 MB as 16 bit, 69 MB as the floats it would become

WALK = """
import resource, sys
from earwitness.audio import blocks, look
from earwitness.sound.fitness import Examiner
info = look(sys.argv[1])
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
examiner = Examiner(info.rate_hz, frames_promised=info.frames_promised)
for block in blocks(sys.argv[1]):
    examiner.add(block[:, 0])
report = examiner.report()
print(report.stop, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""


def test_a_long_recording_is_examined_in_bounded_memory(tmp_path):
    sound = 0.1 * np.random.default_rng(0).standard_normal(round(HOURS * 3600 * RATE), np.float32)
    write_wav(tmp_path / "long.wav", sound, RATE)
    out = subprocess.run(
        [sys.executable, "-c", WALK, str(tmp_path / "long.wav")], capture_output=True, text=True, check=True
    )
    stop, kilobytes = map(int, out.stdout.split())
    assert stop == len(sound) and kilobytes < 40_000
