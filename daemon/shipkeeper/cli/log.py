"""`shipkeeper log`: the journal, also when no daemon runs."""

from __future__ import annotations

import json
from collections.abc import Iterator

import click

from ..app.paths import readable_store
from .ask import NO_DAEMON, REFUSED, Place, ask, asking
from .show import clean

BY_DAEMON = 1000  # rows that the daemon hands over at once, where its file is not ours to read


@click.command("log")
@asking
@click.option("--lines", default=None, type=click.IntRange(min=1), help="Only the newest so many.")
@click.option("--all", "everything", is_flag=True, help="Also commands, wires and the like.")
def log_(place: Place, as_json: bool, lines: int | None, everything: bool) -> None:
    """The journal: every transition, and with --all every command and piece of news.

    Read from the store's file; where that is not ours to read, asked of the daemon.
    """
    from ..store import StoreFailed

    kinds = () if everything else ("transition",)
    try:
        for kind, line in rows(place, lines, kinds):
            click.echo(line if as_json else _told(kind, json.loads(line)))
    except StoreFailed as failed:
        click.echo(str(failed), err=True)
        raise SystemExit(REFUSED) from None


def rows(place: Place, lines: int | None, kinds: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """(kind, JSON line), oldest first."""
    from ..store import read_journal

    path = readable_store(place.state)
    if path is not None:
        yield from ((kind, line) for _, kind, line in read_journal(path, limit=lines, kinds=kinds))
        return
    if not place.socket().exists():
        click.echo(f"no journal to read, and no daemon reached at {place.socket()}", err=True)
        raise SystemExit(NO_DAEMON)
    answer = ask(place, "log", {"lines": lines or BY_DAEMON, "kinds": list(kinds)})
    if answer["code"] >= REFUSED:
        click.echo(f"refused: {clean(answer['text'])}", err=True)
        raise SystemExit(REFUSED)
    yield from ((kind, line) for kind, line in answer["data"]["rows"])


def _told(kind: str, row: dict[str, str]) -> str:
    if kind != "transition":
        return clean(f"{row['at']}  {kind:<15}  {row['text']}")
    step = f"{row['alert']}: {row['from']} -> {row['to']} ({row['reason']})"
    return clean(f"{row['at']}  {row['priority']:<15}  {step}  {row['text']}")
