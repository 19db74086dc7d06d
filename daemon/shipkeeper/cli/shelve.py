"""`shipkeeper shelve`: puts one alert aside for a time."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say
from .quantities import time


@click.command()
@click.argument("ident", metavar="ID")
@click.option(
    "--for", "for_s", callback=time, required=True, help="How long, for example 30min; at most 12h."
)
@click.option("--why", required=True, help="Why, for the journal and whoever comes next.")
@asking
def shelve(ident: str, for_s: float, why: str, place: Place, as_json: bool) -> None:
    """Put one alert aside for a time. It is judged and journalled all the same, and comes
    back by itself. A blind feed cannot be shelved."""
    say(ask(place, "shelve", {"id": ident, "for_s": for_s, "why": why}), as_json)
