"""`shipkeeper status`: all there is to know now."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say
from .show import status_text


@click.command()
@asking
def status(place: Place, as_json: bool) -> None:
    """Watch, own ship, inputs, rules, filters in force, outlets, alerts.

    Ends with 1 when alerts stand or a rule cannot be judged.
    """
    say(ask(place, "status", {}), as_json, status_text)
