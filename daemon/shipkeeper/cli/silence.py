"""`shipkeeper silence`: stops all sound for 30 seconds."""

from __future__ import annotations

import click

from .ask import Place, ask, asking, say


@click.command()
@asking
def silence(place: Place, as_json: bool) -> None:
    """Stop all sound for 30 seconds. It acknowledges nothing: the sound comes back."""
    say(ask(place, "silence", {}), as_json)
