"""`shipkeeper log`: the journal, also when no daemon runs."""

from __future__ import annotations

import json

import click

from ..app.paths import state_folder
from .ask import Place, asking
from .show import clean


@click.command("log")
@asking
@click.option("--lines", default=None, type=int, help="Only the newest so many.")
@click.option("--all", "everything", is_flag=True, help="Also commands, wires and the like.")
def log_(place: Place, as_json: bool, lines: int | None, everything: bool) -> None:
    """The journal: every transition, and with --all every command and piece of news."""
    from ..store import StoreFailed, read_journal

    path = state_folder(place.state) / "shipkeeper.db"
    if not path.exists():
        click.echo(f"no journal at {path}", err=True)
        raise SystemExit(3)
    kinds = () if everything else ("transition",)
    try:
        for _, kind, line in read_journal(path, limit=lines, kinds=kinds):
            if as_json:
                click.echo(line)
                continue
            row = json.loads(line)
            if kind == "transition":
                text = (
                    f"{row['alert']}: {row['from']} -> {row['to']} ({row['reason']})  {row['text']}"
                )
                click.echo(clean(f"{row['at']}  {row['priority']:<8} {text}"))
            else:
                click.echo(clean(f"{row['at']}  {kind:<8} {row['text']}"))
    except StoreFailed as failed:
        click.echo(str(failed), err=True)
        raise SystemExit(2) from None
