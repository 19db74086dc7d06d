"""`shipkeeper handover`: who has the watch, until when."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say
from .quantities import time


@click.command()
@click.argument("who", metavar="NAME")
@click.option("--for", "for_s", callback=time, default=None, help="How long, for example 4h.")
@click.option("--next", "after", default=None, help="The outlet that is called at its end.")
@asking
def handover(who: str, for_s: float | None, after: str | None, place: Place, as_json: bool) -> None:
    """NAME has the watch. At the end of it the next is called, and what nobody has answered
    calls again."""
    say(ask(place, "handover", {"to": who, "for_s": for_s, "next": after}), as_json)
