"""`shipkeeper moor`: sets the watch on a mooring."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say
from .mark import lying, request
from .quantities import SOUTHERN, position


@click.command(context_settings=SOUTHERN)
@click.argument("place_given", required=False, metavar="[LAT,LON]", callback=position)
@lying
@asking
def moor(
    place_given: tuple[float, float] | None, place: Place, as_json: bool, **lengths: float | None
) -> None:
    """Set the watch on a mooring: here, or with the mark at LAT,LON."""
    how = "here" if place_given is None else "at"
    say(ask(place, "moor", request(how, place_given, lengths)), as_json)
