"""`shipkeeper take`: you have the watch, or one alert."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say
from .quantities import time


@click.command()
@click.argument("ident", metavar="[ID]", required=False)
@click.option("--for", "for_s", callback=time, default=None, help="How long, for example 4h.")
@click.option("--next", "after", default=None, help="The outlet that is called at its end.")
@click.option("--still", is_flag=True, help="You still have what you took: say so every minute.")
@asking
def take(
    ident: str | None,
    for_s: float | None,
    after: str | None,
    still: bool,
    place: Place,
    as_json: bool,
) -> None:
    """Without ID: you have the watch, until when with --for; its end calls the next.

    With ID: you have that alert, and nobody else is called for it, for as long as you say every
    minute that you still have it (--still). What is not said for two minutes calls again.
    """
    if still:
        say(ask(place, "heartbeat", {}), as_json)
    if ident and (for_s is not None or after):
        raise click.UsageError("--for and --next are of the watch; leave ID out")
    say(ask(place, "take", {"id": ident, "for_s": for_s, "next": after}), as_json)
