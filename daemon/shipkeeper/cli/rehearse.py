"""`shipkeeper rehearse`: what these orders would have done over recorded nights."""

from __future__ import annotations

import re
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
import msgspec

from ..app.kinds import KINDS
from ..orders import BadOrders, load
from ..rehearse.load import load_figures
from ..rehearse.recording import Recording, merged
from ..rehearse.rehearsal import Rehearsal, Start
from ..words.effects import Record
from ..words.geo import LatLon
from ..words.orders import Orders
from ..words.units import UnitError, parse_quantity


@click.command()
@click.argument("recordings", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--orders",
    "orders_path",
    type=click.Path(path_type=Path),
    default=None,
    help="Orders to rehearse; default: those in the recording, else the boat's own.",
)
@click.option(
    "--anchor",
    default=None,
    metavar="LAT,LON|first",
    help="Set an anchor watch with this mark; 'first': the first fix.",
)
@click.option("--rode", default=None, help="Rode laid out, for example '35 m'.")
@click.option("--depth", default=None, help="Depth of water when anchored, for example '6 m'.")
@click.option("--rise", default=None, help="How much the tide will rise.")
@click.option("--set-at", default=None, metavar="TIME", help="When the watch is set (UTC).")
@click.option(
    "--watch",
    type=click.Choice(["anchored", "moored", "berthed", "underway", "off"]),
    default=None,
    help="The watch; default anchored with an anchor, else underway.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line.")
def rehearse(
    recordings: tuple[Path, ...],
    orders_path: Path | None,
    anchor: str | None,
    rode: str | None,
    depth: str | None,
    rise: str | None,
    set_at: str | None,
    watch: str | None,
    as_json: bool,
) -> None:
    """Run the orders over RECORDINGS, without outlets: what would have been raised?"""
    try:
        opened = [Recording(path) for path in recordings]
    except OSError as error:
        raise click.UsageError(f"{error.filename}: {error.strerror}") from None
    header = opened[0].header
    orders = _orders(orders_path, header.orders if header is not None else "")
    first_s = None
    start = _start(anchor, rode, depth, rise, set_at, watch)
    rehearsal = Rehearsal(orders, start, header)
    records: list[Record] = []
    for record in rehearsal.run(merged(opened)):
        records.append(record)
        if as_json:
            sys.stdout.buffer.write(msgspec.json.encode(record.transition) + b"\n")
        else:
            click.echo(_line(record))
    first_s, last_s = rehearsal.first_s or 0.0, rehearsal.last_s or 0.0
    summary: dict[str, Any] = {
        "recordings": [path.name for path in recordings],
        "lines": rehearsal.lines,
        "transitions": len(records),
        **load_figures(records, first_s, last_s),
    }
    if as_json:
        sys.stdout.buffer.write(msgspec.json.encode({"summary": summary}) + b"\n")
    else:
        click.echo(_summary_text(summary))


def _orders(path: Path | None, recorded: str) -> Orders:
    """The orders asked for, else those the recording was made under."""
    try:
        if path is None and recorded:
            with tempfile.NamedTemporaryFile("w", suffix=".toml") as copy:
                copy.write(recorded)
                copy.flush()
                return load(Path(copy.name), KINDS)
        return load(path or Path("/etc/shipkeeper/orders.toml"), KINDS)
    except BadOrders as bad:
        click.echo(str(bad), err=True)
        raise SystemExit(2) from None


def _start(
    anchor: str | None,
    rode: str | None,
    depth: str | None,
    rise: str | None,
    set_at: str | None,
    watch: str | None,
) -> Start:
    place = None
    if anchor is not None and anchor != "first":
        match = re.fullmatch(r"\s*([-+]?[\d.]+)\s*,\s*([-+]?[\d.]+)\s*", anchor)
        if match is None:
            raise click.UsageError("--anchor is LAT,LON in degrees, or 'first'")
        place = LatLon(float(match[1]), float(match[2]))
        if abs(place.lat) > 90 or abs(place.lon) > 180:
            raise click.UsageError("--anchor: latitude to 90, longitude to 180")
    lengths = {}
    for name, text in (("rode", rode), ("depth", depth), ("rise", rise)):
        try:
            lengths[f"{name}_m"] = None if text is None else parse_quantity(text, "length")
        except UnitError as error:
            raise click.UsageError(f"--{name} {text!r} {error}") from None
    return Start(
        anchor=place, anchor_first=anchor == "first", set_at_s=_time(set_at), watch=watch, **lengths
    )


def _time(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise click.UsageError("--set-at is a UTC time such as 2026-06-11T22:00:00Z") from None
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def _line(record: Record) -> str:
    t = record.transition
    return f"{t.at}  {t.priority:<8} {t.alert}: {t.from_} -> {t.to} ({t.reason})  {t.text}"


def _summary_text(summary: dict[str, Any]) -> str:
    hours = summary["span_s"] / 3600
    lines = [
        "",
        f"{summary['lines']} lines over {hours:.1f} h, {summary['transitions']} transitions",
        f"announced {summary['announcements']} times ({summary['per_hour']} an hour, "
        f"at most {summary['most_in_10_min']} in ten minutes), "
        f"{summary['cautions']} caution(s)",
        f"cleared by themselves, unacknowledged: {summary['wake_ups_that_cleared_by_themselves']}",
    ]
    for rule, count in summary["by_rule"].items():
        lines.append(f"  {rule}: {count}")
    for alert, seconds in summary["unknown_s"].items():
        lines.append(f"  {alert} could not be judged for {seconds:.0f} s")
    return "\n".join(lines)
