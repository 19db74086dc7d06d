"""`shipkeeper unshelve`: takes an alert off the shelf."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@click.argument("ident", metavar="ID")
@asking
def unshelve(ident: str, place: Place, as_json: bool) -> None:
    """Take an alert off the shelf: it speaks again if it is still so."""
    say(ask(place, "unshelve", {"id": ident}), as_json)
