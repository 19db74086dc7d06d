"""`shipkeeper reset`: lets a latched alert go."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@click.argument("ident", metavar="ID")
@asking
def reset(ident: str, place: Place, as_json: bool) -> None:
    """Let an alert go that is over and was acknowledged, but stays by its orders (`latch`); or
    an acknowledged one of a target that will never be heard again."""
    say(ask(place, "reset", {"id": ident}), as_json)
