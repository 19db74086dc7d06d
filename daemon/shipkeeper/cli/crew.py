"""`shipkeeper crew`: who is there."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@click.argument("where", type=click.Choice(["aboard", "ashore"]))
@asking
def crew(where: str, place: Place, as_json: bool) -> None:
    """Say whether the crew is aboard or ashore."""
    say(ask(place, "crew", {"where": where}), as_json)
