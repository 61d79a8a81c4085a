"""`python -m benchmarks.examiner OUT --kind bearing --count 60 --seed 1` writes; `python -m benchmarks.examiner score
OUT` marks.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from benchmarks.examiner.folder import KINDS, write
from benchmarks.examiner.score import score


def main(arguments: list[str]) -> None:
    """Write survey folders, or score the program on those that were written."""
    if arguments[:1] == ["score"]:
        parser = argparse.ArgumentParser(prog="benchmarks.examiner score")
        parser.add_argument("out", type=Path)
        parser.add_argument("--quiet", action="store_true", help="only the figures a kind")
        chosen = parser.parse_args(arguments[1:])
        score(chosen.out, chosen.quiet)
        return
    parser = argparse.ArgumentParser(prog="benchmarks.examiner", description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--kind", choices=KINDS, required=True)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args(arguments)
    write(chosen.out, chosen.kind, chosen.count, chosen.seed)


if __name__ == "__main__":
    main(sys.argv[1:])
