"""`shipkeeper off`: sets no watch."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@asking
def off(place: Place, as_json: bool) -> None:
    """Set no watch. Names the alerts that stood."""
    say(ask(place, "off", {}), as_json)
