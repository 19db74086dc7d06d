"""`shipkeeper targets`: who is around, the nearest first."""

from __future__ import annotations

from typing import Any

import click

from .ask import Place, ask, asking, say
from .show import targets_text


@click.command()
@asking
def targets(place: Place, as_json: bool) -> None:
    """Range, bearing, course, speed, CPA, TCPA, age and source of each target."""
    say(ask(place, "targets", {}), as_json, _rows)


def _rows(data: dict[str, Any]) -> str:
    return targets_text(data["targets"])
