"""Paths as options take them."""

from __future__ import annotations

from pathlib import Path

import click

PATH = click.Path(path_type=Path, readable=False)  # whether it may be read is said by who reads it, in one line
