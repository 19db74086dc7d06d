"""`shipkeeper anchor`: sets the anchor watch, or mends its mark."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say
from .mark import lying, request
from .quantities import SOUTHERN, position


@click.command(context_settings=SOUTHERN)
@click.argument("how", type=click.Choice(["here", "at", "veer", "move"]))
@click.argument("place_given", required=False, metavar="[LAT,LON]", callback=position)
@lying
@asking
def anchor(
    how: str,
    place_given: tuple[float, float] | None,
    place: Place,
    as_json: bool,
    **lengths: float | None,
) -> None:
    """Set the anchor watch, or mend the mark.

    \b
    here         the bow is over the anchor now
    at LAT,LON   the anchor lies there
    veer         more (or less) rode is out: --rode
    move         the mark was wrong: it is here, or at LAT,LON; the watch goes on

    Prints the swing circle and how it was reckoned, which rules stand, and what they lack.
    """
    if how == "at" and place_given is None:
        raise click.UsageError("at what place? anchor at LAT,LON")
    if how in ("here", "veer") and place_given is not None:
        raise click.UsageError(f"'anchor {how}' takes no position; use: anchor at LAT,LON")
    say(ask(place, "anchor", request(how, place_given, lengths)), as_json)
