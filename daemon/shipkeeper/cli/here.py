"""`shipkeeper here`: whoever has the watch is there."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@asking
def here(place: Place, as_json: bool) -> None:
    """Answer that someone keeps the watch, as [presence] in the orders asks."""
    say(ask(place, "here", {}), as_json)
