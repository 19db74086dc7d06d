"""`shipkeeper targets`: who is around, the nearest first."""

from __future__ import annotations

import shutil
import sys
from typing import Any

import click

from .ask import Place, ask, asking, say
from .target_lines import WIDE, targets_text


@click.command()
@asking
def targets(place: Place, as_json: bool) -> None:
    """Range, bearing true and relative, course, speed, CPA and TCPA, bow crossing, age, source
    of each target; which zones it is in, and which orders leave it out."""
    say(ask(place, "targets", {}), as_json, _rows)


def _rows(data: dict[str, Any]) -> str:
    terminal = sys.stdout.isatty()
    return targets_text(data["targets"], shutil.get_terminal_size().columns if terminal else WIDE)
