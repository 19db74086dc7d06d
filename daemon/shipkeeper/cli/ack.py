"""`shipkeeper ack`: a person knows of this one alert."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@click.argument("ident", metavar="ID")
@click.option(
    "--occurrence",
    type=click.IntRange(min=1),
    default=None,
    help="Only that occurrence; refused when it is over and the alert was raised again.",
)
@click.option(
    "--ashore",
    is_flag=True,
    help="You are not aboard: you take charge, but the sound aboard goes on.",
)
@asking
def ack(ident: str, occurrence: int | None, ashore: bool, place: Place, as_json: bool) -> None:
    """Acknowledge one alert by its ID or number (`shipkeeper alerts` lists them).

    There is no way to acknowledge all: each is looked at.
    """
    args = {"id": ident, "occurrence": occurrence}
    say(ask(place, "ack", args, "ashore" if ashore else "aboard"), as_json)
