"""`shipkeeper transfer`: somebody else has one alert."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@click.argument("ident", metavar="ID")
@click.option("--to", required=True, help="Who has it now.")
@asking
def transfer(ident: str, to: str, place: Place, as_json: bool) -> None:
    """Somebody else has that alert: everyone who was called is told. It calls again when that
    one is not heard of for two minutes."""
    say(ask(place, "transfer", {"id": ident, "to": to}), as_json)
