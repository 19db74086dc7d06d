"""What `rehearse` and `report` share: recordings, orders and how the night begins."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import click

from ..app.kinds import KINDS
from ..app.paths import ORDERS
from ..orders import BadOrders, load, read, told
from ..rehearse.passages import Passage, passages
from ..rehearse.recording import Header, Recording
from ..rehearse.rehearsal import Start
from ..rehearse.told import Outcome
from ..words.geo import LatLon
from ..words.orders import Orders
from ..words.units import UnitError, parse_quantity
from .show import clean

F = TypeVar("F", bound=Callable[..., Any])
REFUSED = 2
NEEDS_MARK = frozenset({"anchored", "moored", "berthed"})


def beginning(function: F) -> F:
    """The options that say how the night begins when the recording does not."""
    for option in (
        click.option("--watch", default=None,
            type=click.Choice(["anchored", "moored", "berthed", "underway", "off"]),
            help="The watch; default anchored with an anchor, else underway."),
        click.option("--set-at", default=None, metavar="TIME", help="When the watch is set (UTC)."),
        click.option("--rise", default=None, help="How much the tide will rise."),
        click.option("--depth", default=None,
            help="Depth of water when anchored, for example '6 m'."),
        click.option("--rode", default=None, help="Rode laid out, for example '35 m'."),
        click.option("--anchor", default=None, metavar="LAT,LON|first",
            help="Set an anchor watch with this mark; 'first': the first fix."),
        click.option("--orders", "orders_path", default=None, type=click.Path(path_type=Path),
            help="Orders; default: those in the recording, else the boat's own."),
    ):  # fmt: skip
        function = option(function)
    return function


def opened(paths: Sequence[Path]) -> list[Passage]:
    """The recordings as passages; a folder stands for all that is in it."""
    files: list[Path] = []
    for path in paths:
        files += sorted(p for p in path.iterdir() if p.is_file()) if path.is_dir() else [path]
    files = [path for path in files if path.suffix != ".part"]
    try:
        return passages([Recording(path.absolute()) for path in files])
    except OSError as error:
        raise click.UsageError(f"{error.filename or 'recording'}: {error.strerror}") from None
    except ValueError as error:
        raise click.UsageError(str(error)) from None


def orders_for(path: Path | None, header: Header | None) -> Orders:
    """The orders asked for, else those the recording was made under, else the boat's own."""
    try:
        if path is None and header is not None and header.orders:
            orders, problems, _ = read(header.orders, "orders in the recording", KINDS)
            if orders is None:
                raise BadOrders("orders in the recording", problems)
            return orders
        return load(path or ORDERS, KINDS)
    except BadOrders as bad:
        click.echo(told(bad.path, bad.problems), err=True)
        raise SystemExit(REFUSED) from None


def start(
    anchor: str | None,
    rode: str | None,
    depth: str | None,
    rise: str | None,
    set_at: str | None,
    watch: str | None,
) -> Start:
    """The options as a start. Refuses what is none, in one line."""
    place = None
    if anchor is not None and anchor != "first":
        match = re.fullmatch(r"\s*([-+]?[\d.]+)\s*,\s*([-+]?[\d.]+)\s*", anchor)
        try:
            place = None if match is None else LatLon(float(match[1]), float(match[2]))
        except ValueError:
            place = None
        if place is None:
            raise click.UsageError("--anchor is LAT,LON in degrees, or 'first'")
        if abs(place.lat) > 90 or abs(place.lon) > 180:
            raise click.UsageError("--anchor: latitude to 90, longitude to 180")
    lengths = {}
    for name, text in (("rode", rode), ("depth", depth), ("rise", rise)):
        try:
            lengths[f"{name}_m"] = None if text is None else parse_quantity(text, "length")
        except UnitError as error:
            raise click.UsageError(f"--{name} {text!r} {error}") from None
    return Start(
        anchor=place,
        # A watch at rest wants a mark: without one it would never be set.
        anchor_first=anchor == "first" or (place is None and watch in NEEDS_MARK),
        set_at_s=time_of("--set-at", set_at),
        watch=watch,
        **lengths,
    )


def tell_unwatched(outcomes: Sequence[Outcome]) -> None:
    """A night in which no watch was set proves nothing: nobody may take it for a quiet one."""
    for why in dict.fromkeys(one.not_watched for one in outcomes if one.not_watched):
        click.echo(clean(f"NOT WATCHED, the watch was never set: {why}"), err=True)


def time_of(option: str, text: str | None) -> float | None:
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise click.UsageError(f"{option} is a UTC time such as 2026-06-11T22:00:00Z") from None
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
