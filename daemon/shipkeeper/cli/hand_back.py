"""`shipkeeper hand-back`: an alert that was taken calls again."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@click.argument("ident", metavar="ID")
@asking
def hand_back(ident: str, place: Place, as_json: bool) -> None:
    """You do not have that alert any more: it calls again."""
    say(ask(place, "hand-back", {"id": ident}), as_json)
