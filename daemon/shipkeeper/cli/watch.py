"""`shipkeeper watch`: the daemon in the foreground."""

from __future__ import annotations

from datetime import UTC, datetime

import click

from ..app import paths
from .ask import Place, finding


@click.command()
@finding
@click.option(
    "--clock", "clock_kind", type=click.Choice(["computer", "feed"]), default="computer",
    help="'feed': go by the stamps in the feed's TAG blocks. For demos and tests, never on a boat.",
)  # fmt: skip
@click.option("--rate", type=float, default=1.0, help="Clock seconds a second, for tests.")
@click.option("--starts", default=None, metavar="TIME", help="Clock's first time (UTC), for tests.")
def watch(place: Place, clock_kind: str, rate: float, starts: str | None) -> None:
    """Run the daemon in the foreground. An aid, never a look-out (COLREG rule 5)."""
    from ..app.clock import Clock, FeedClock
    from ..app.daemon import AlreadyRuns
    from ..app.daemon import watch as keep_watch
    from ..orders import BadOrders

    starts_s = _time(starts)
    state = paths.state_folder(place.state)
    clock = Clock(rate=rate, starts_s=starts_s)
    if clock_kind == "feed":
        clock = FeedClock(starts_s if starts_s is not None else clock.now_s())
    if clock.shifted:
        click.echo("the clock does not show the time of day: for demos and tests only", err=True)
    try:
        keep_watch(
            place.orders or paths.ORDERS,
            state,
            paths.control_socket(place.control, state),
            clock,
        )
    except BadOrders as bad:
        click.echo(str(bad), err=True)
        raise SystemExit(2) from None
    except AlreadyRuns as runs:
        click.echo(str(runs), err=True)
        raise SystemExit(2) from None


def _time(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise click.UsageError("--starts is a UTC time such as 2026-06-11T22:00:00Z") from None
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
