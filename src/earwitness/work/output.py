"""Outputs appear whole or not at all: written beside, then moved into place in one go."""

from __future__ import annotations

import shutil
import signal
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from earwitness.errors import EarwitnessError

OUTPUTS = ("report.html", "report.pdf", "repair-list.csv", "repair-list.xlsx", "findings.json")


@contextmanager
def replacing(out: Path) -> Iterator[Path]:
    """A fresh folder to write into. When the block ends well its files take the place of the same names in `out`,
    and outputs of an earlier run that were not made again go; when it fails or is interrupted, `out` is as it was."""
    try:
        out.mkdir(parents=True, exist_ok=True)
        staging = Path(tempfile.mkdtemp(prefix=".earwitness-", dir=out))
    except OSError as error:
        raise EarwitnessError(
            f"cannot write into {out}: {error.strerror}; name a folder that can be written with --out"
        ) from error
    try:
        yield staging
        with _undisturbed():
            for name in OUTPUTS:
                if (staging / name).exists():
                    (staging / name).replace(out / name)
                else:
                    (out / name).unlink(missing_ok=True)
    finally:
        shutil.rmtree(staging, ignore_errors=True)


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Interrupts wait until the block is through: half of the moves would be neither old nor new."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    waiting: list[int] = []

    def note(number: int, frame: FrameType | None) -> None:
        waiting.append(number)

    before = {s: signal.signal(s, note) for s in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        if waiting:
            signal.raise_signal(waiting[0])
