"""`shipkeeper measure`: range and bearing between two places."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say
from .quantities import SOUTHERN


@click.command(context_settings=SOUTHERN)
@click.argument("start", metavar="FROM")
@click.argument("end", metavar="TO")
@asking
def measure(start: str, end: str, place: Place, as_json: bool) -> None:
    """Range and bearing on the WGS84 ellipsoid between two of: own, anchor, a target's name or
    MMSI, LAT,LON."""
    say(ask(place, "measure", {"from": start, "to": end}), as_json)
