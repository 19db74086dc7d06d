"""`shipkeeper zone`: switches a zone off for a time, or on."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say
from .quantities import time


@click.command()
@click.argument("switch", type=click.Choice(["on", "off"]))
@click.argument("name")
@click.option("--for", "for_s", callback=time, default=None, help="How long off, for example 2h.")
@click.option("--why", default=None, help="Why, for the journal.")
@asking
def zone(
    switch: str, name: str, for_s: float | None, why: str | None, place: Place, as_json: bool
) -> None:
    """Switch the zone NAME off for a time (--for and --why), or on.

    It comes back on by itself.
    """
    args = {"name": name, "on": switch == "on", "for_s": for_s, "why": why}
    say(ask(place, "zone", args), as_json)
