"""`shipkeeper out-of-service`: one order is kept quiet while something is mended."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command("out-of-service")
@click.argument("rule", metavar="RULE")
@click.option("--why", required=True, help="Why, for the journal and whoever comes next.")
@asking
def out_of_service(rule: str, why: str, place: Place, as_json: bool) -> None:
    """Keep all alerts of one order quiet until `in-service`. It is judged and journalled all the
    same, is listed in `status`, and reminds of itself once a day. What watches the watch stays
    in service."""
    say(ask(place, "out-of-service", {"id": rule, "why": why}), as_json)
