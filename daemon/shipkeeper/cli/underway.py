"""`shipkeeper underway`: sets the watch under way."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@asking
def underway(place: Place, as_json: bool) -> None:
    """Set the watch under way."""
    say(ask(place, "underway", {}), as_json)
