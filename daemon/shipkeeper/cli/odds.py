"""`shipkeeper odds`: how often the drag rule would cry wolf, and how late it would see a drag."""

from __future__ import annotations

from typing import Any

import click
import msgspec

from ..rehearse.odds import QUALITIES, Given, run, summary
from ..rehearse.spread import cores
from .progress import progress_bar
from .quantities import length, quantity

INPUTS = ("wind", "heading", "depth", "speed")


@click.command()
@click.option("--rode", callback=length, help="Rode laid out, for example '35 m' (else drawn).")
@click.option("--depth", callback=length, help="Depth of water, for example '6 m' (else drawn).")
@click.option("--wind", callback=quantity("speed"), help="Mean wind, for example '20 kn'.")
@click.option("--gnss", type=click.Choice(QUALITIES), help="Quality of the receiver (else drawn).")
@click.option("--without", type=click.Choice(INPUTS), multiple=True, help="An input not sent.")
@click.option("--margin", callback=length, help="Limit beyond the reach, for example '10 m'.")
@click.option(
    "--false-alarms", type=click.IntRange(2, 99_999), default=365, show_default=True,
    metavar="NIGHTS", help="Or the limit that goes with one false alarm in so many nights.",
)  # fmt: skip
@click.option(
    "--nights", type=click.IntRange(1, 100_000), default=100, show_default=True,
    help="Nights that hold.",
)  # fmt: skip
@click.option(
    "--each", type=click.IntRange(0, 10_000), default=20, show_default=True,
    help="Nights of each sort of drag.",
)  # fmt: skip
@click.option("--seed", type=int, default=1, show_default=True, help="The first night's number.")
@click.option("--jobs", type=click.IntRange(1, 256), default=None, help="Processes (all cores).")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def odds(
    rode: float | None,
    depth: float | None,
    wind: float | None,
    gnss: str | None,
    without: tuple[str, ...],
    margin: float | None,
    false_alarms: int,
    nights: int,
    each: int,
    seed: int,
    jobs: int | None,
    as_json: bool,
) -> None:
    """Play many simulated nights at anchor against the drag rule.

    Tells the odds of a false alarm a night, and how far the anchor has dragged when the alarm
    comes, each with how sure that is. It is a simulation: your boat, berth and bottom differ.
    """
    given = Given(
        rode_m=rode,
        depth_m=depth,
        wind_ms=wind,
        gnss=gnss,
        without=without,
        margin_m=margin,
        nights=float(false_alarms),
    )
    total = nights + 5 * each
    with progress_bar("simulated nights", total) as progress:
        outcomes = run(
            given, nights=nights, each=each, seed=seed, jobs=jobs or cores(), progress=progress
        )
    if not outcomes:
        raise click.UsageError("the rode does not reach the bottom of that depth in any night")
    told = summary(outcomes, given)
    if as_json:
        click.echo(msgspec.json.encode(told).decode())
        return
    for line in lines(told, total):
        click.echo(line)


def lines(told: dict[str, Any], asked: int) -> list[str]:
    """The summary for a person."""
    nights, false = told["nights"], told["false_alarms"]
    said = [
        f"Alarm {told['limit_m']:.1f} m beyond the reach. {nights} simulated nights of 8 h"
        + (f" ({asked - nights} cannot be with that rode and depth)." if asked > nights else "."),
        f"False alarms: {false}"
        + (f", about one in {nights / false:.0f} nights" if false else "")
        + f"; 95 % sure: {_rate(told['per_night_from'], told['per_night_to'])}.",
        "",
        f"{'drag':<8} {'nights':>6}  dragged when the alarm comes (95 % sure)  9 in 10  missed",
    ]
    for drag, row in told["drags"].items():
        middle = f"{_m(row['median_m'])} ({_m(row['median_from_m'])} to {_m(row['median_to_m'])})"
        said.append(
            f"{drag:<8} {row['nights']:>6}  {middle:<39} {_m(row['nine_in_ten_m']):>8}  "
            f"{row['missed']} (at most {100 * row['missed_at_most']:.0f} %)"
        )
    return [*said, "", "A simulation, not your boat: keep a margin, and let somebody look out."]


def _rate(low: float, high: float) -> str:
    often = f"not oftener than one in {1 / high:.0f} nights" if high < 0.5 else "unknown"
    return often if low <= 0 else f"one in {1 / high:.0f} to one in {1 / low:.0f} nights"


def _m(metres: float | None) -> str:
    return "never" if metres is None else f"{metres:.0f} m"
