"""`shipkeeper report`: the night as one HTML file, and as a small dark picture for a phone."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import Any

import click
import msgspec

from ..app.paths import state_folder
from ..rehearse.nightlog import NightLog
from ..rehearse.passages import Passage
from ..rehearse.recording import Recording, merged
from ..rehearse.rehearsal import Rehearsal, Start
from ..rehearse.told import Outcome
from ..words.orders import Orders
from .progress import progress_bar
from .recordings import (
    REFUSED,
    beginning,
    opened,
    orders_for,
    start,
    tell_unwatched,
    time_of,
)

LAST_S = 24 * 3600.0


@click.command()
@click.argument("recordings", nargs=-1, type=click.Path(path_type=Path))
@beginning
@click.option("--since", default=None, metavar="TIME", help="Only from this time on (UTC).")
@click.option("--until", default=None, metavar="TIME", help="Only up to this time (UTC).")
@click.option("--html", "html_path", default=None, type=click.Path(path_type=Path),
              help="Where to write the page; default report.html.")  # fmt: skip
@click.option("--png", "png_path", default=None, type=click.Path(path_type=Path),
              help="A small dark picture, under 60 kB (extra `pictures`).")  # fmt: skip
@click.option("--state", "state", default=None, type=click.Path(path_type=Path),
              help="The daemon's state folder, when it is not the boat's own.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="What the page says, as one JSON object.")
def report(
    recordings: tuple[Path, ...],
    orders_path: Path | None,
    anchor: str | None,
    rode: str | None,
    depth: str | None,
    rise: str | None,
    set_at: str | None,
    watch: str | None,
    since: str | None,
    until: str | None,
    html_path: Path | None,
    png_path: Path | None,
    state: Path | None,
    as_json: bool,
) -> None:
    """The night of RECORDINGS as one page that needs nothing from outside.

    Without RECORDINGS: the last 24 hours that the daemon recorded. The orders are run over them
    again, so the page shows what these orders do; the recording's own unless others are given.
    """
    from ..rehearse.report.night import Night

    begun = start(anchor, rode, depth, rise, set_at, watch)
    found = opened(recordings or _recorded(state))
    since_s, until_s = time_of("--since", since), time_of("--until", until)
    if not recordings and since_s is None:
        since_s = (Recording(found[-1].paths[-1]).last_s() or math.inf) - LAST_S
    log = NightLog(-math.inf if since_s is None else since_s,
                   math.inf if until_s is None else until_s)  # fmt: skip
    orders, outcomes = _run(found, orders_path, begun, log)
    if not log.samples:
        click.echo("nothing was recorded in that time", err=True)
        raise SystemExit(REFUSED)
    night = Night(orders, log, outcomes)
    if html_path is None and png_path is None and not as_json:
        html_path = Path("report.html")
    try:
        written = _write(night, html_path, png_path)
    except OSError as error:
        click.echo(f"{error.filename}: {error.strerror}", err=True)
        raise SystemExit(REFUSED) from None
    if as_json:
        sys.stdout.buffer.write(msgspec.json.encode(_facts(night, written)) + b"\n")
        return
    for path, size in written.items():
        click.echo(f"{path}, {size / 1000:.0f} kB")


def _recorded(state: Path | None) -> list[Path]:
    """The recorder's files, the last two days of them: the last day is cut from these."""
    folder = state_folder(state) / "recordings"
    files = sorted(folder.glob("*.nmea*")) if folder.is_dir() else []
    files = [path for path in files if path.suffix != ".part"]
    if not files:
        click.echo(f"no recordings in {folder}; name some, or see [recorder]", err=True)
        raise SystemExit(REFUSED)
    newest = files[-1].stat().st_mtime
    return [path for path in files if path.stat().st_mtime >= newest - 2 * LAST_S]


def _run(
    found: list[Passage], orders_path: Path | None, begun: Start, log: NightLog
) -> tuple[Orders, list[Outcome]]:
    outcomes: list[Outcome] = []
    orders = orders_for(orders_path, found[-1].header)
    with progress_bar("reading the night", sum(p.bytes for p in found)) as progress:
        done = 0
        for passage in found:
            mine = passage.fitted(orders_for(orders_path, passage.header))
            files = [Recording(path) for path in passage.paths]
            rehearsal = Rehearsal(mine, begun, passage.header, log)
            told = []
            for one in rehearsal.run(merged(files)):
                told.append(one)
                if progress is not None:
                    progress(done + sum(f.read_bytes for f in files))
            done += passage.bytes
            first_s = rehearsal.first_s or 0.0
            outcomes.append(
                Outcome(
                    tuple(told), first_s, rehearsal.last_s or first_s, rehearsal.lines,
                    rehearsal.lon, tuple(f.path.name for f in files if f.torn),
                    rehearsal.not_watched,
                )
            )  # fmt: skip
    tell_unwatched(outcomes)
    return orders, outcomes


def _write(night: Any, html_path: Path | None, png_path: Path | None) -> dict[str, int]:
    written: dict[str, int] = {}
    if html_path is not None:
        from ..rehearse.report.page import page
        from .version import own_version

        html_path.write_text(page(night, own_version()), "utf-8")
        written[str(html_path)] = html_path.stat().st_size
    if png_path is not None:
        try:
            from ..rehearse.report.picture import picture
        except ImportError:
            click.echo("--png needs the extra `pictures`: pip install 'shipkeeper[pictures]'",
                       err=True)  # fmt: skip
            raise SystemExit(REFUSED) from None
        png_path.write_bytes(picture(night))
        written[str(png_path)] = png_path.stat().st_size
    return written


def _facts(night: Any, written: dict[str, int]) -> dict[str, Any]:
    """What the page says, without its drawings."""
    from ..rehearse.report.facts import facts

    return facts(night) | {"written": written}
