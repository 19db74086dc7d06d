"""`shipkeeper in-service`: an order that was out of service calls again."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command("in-service")
@click.argument("rule", metavar="RULE")
@asking
def in_service(rule: str, place: Place, as_json: bool) -> None:
    """What still holds is announced at once."""
    say(ask(place, "in-service", {"id": rule}), as_json)
