"""`shipkeeper watch`: the daemon in the foreground."""

from __future__ import annotations

import os
from datetime import UTC, datetime

import click

from ..app import paths
from .ask import Place, finding


@click.command()
@finding
@click.option(
    "--clock", "clock_kind", type=click.Choice(["computer", "feed"]), default="computer",
    help="For demos and tests: 'feed' goes by the stamps in the feed's TAG blocks, from --starts.",
)  # fmt: skip
@click.option(
    "--time-lapse", type=click.FloatRange(min=0.01, max=10_000.0), default=1.0,
    help="For demos and tests: so many seconds of the watch in one second.",
)  # fmt: skip
@click.option(
    "--starts", default=None, metavar="TIME",
    help="For demos and tests: the clock's first time (UTC), 2026-06-11T22:00:00Z.",
)  # fmt: skip
def watch(place: Place, clock_kind: str, time_lapse: float, starts: str | None) -> None:
    """Run the daemon in the foreground. An aid, never a look-out (COLREG rule 5).

    SIGHUP takes new orders (bad ones change nothing), SIGTERM and Ctrl-C end the watch.
    """
    from ..app.clock import Clock, FeedClock
    from ..app.daemon import watch as keep_watch
    from ..app.log import log
    from ..app.statefolder import AlreadyRuns
    from ..orders import BadOrders

    starts_s = _time(starts)
    if clock_kind == "feed":
        if starts_s is None:
            raise click.UsageError("--clock feed needs --starts, a time just before the feed's")
        clock: Clock = FeedClock(starts_s)
    else:
        clock = Clock(rate=time_lapse, starts_s=starts_s)
    if clock.shifted:
        log("THE CLOCK IS NOT THE TIME OF DAY: for demos and tests only")
    state = paths.state_folder(place.state)
    control = paths.control_socket(place.control, state)
    try:
        code = keep_watch(place.orders or paths.ORDERS, state, control, clock)
    except (BadOrders, AlreadyRuns) as refused:
        click.echo(str(refused), err=True)
        raise SystemExit(2) from None
    # All is kept, and what did not stop was left behind. A thread of it that hangs in a write to
    # a terminal that nobody reads holds a lock on which Python's own end would abort.
    os._exit(code)


def _time(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise click.UsageError("--starts is a UTC time such as 2026-06-11T22:00:00Z") from None
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
