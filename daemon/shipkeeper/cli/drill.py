"""`shipkeeper drill`: prove the way from an input to a person, step by step."""

from __future__ import annotations

import json
import sys
import time
from typing import Any

import click

from .ask import REFUSED, Place, ask, asking
from .quantities import quantity
from .show import clean

LOOK_S = 0.3


@click.command()
@click.option("--outlet", help="Prove this outlet alone; it does not count for the reminder.")
@click.option(
    "--wait", "wait_s", default="3 min", show_default=True, callback=quantity("time"),
    help="How long to wait for an answer.",
)  # fmt: skip
@click.option("--last", is_flag=True, help="Show the report of the last drill instead.")
@asking
def drill(place: Place, outlet: str | None, wait_s: float, last: bool, as_json: bool) -> None:
    """Send a hazard that is none in at the door of an input, and time it to every outlet and to
    a person's answer. It sounds, pushes and calls as an alarm would, marked as a drill.

    Answer it as you would answer an alarm: the button, the phone's way, or `shipkeeper ack
    drill`. It ends by itself; an alarm that is real breaks it off.

    Exit code 0: proved. 1: something did not arrive. 2: refused.
    """
    if last:
        _end(_kept(place), as_json)
    begun = ask(place, "drill", {"how": "start", "outlet": outlet, "wait_s": wait_s})
    if begun["code"]:
        _end(begun, as_json)
    if not as_json:
        click.echo(f"{clean(begun['text'])} begins. ANSWER IT: shipkeeper ack drill, or the button")
    try:
        _end(_follow(place, as_json), as_json)
    except KeyboardInterrupt:
        ask(place, "drill", {"how": "stop"})
        _end(_follow(place, as_json), as_json)


def _follow(place: Place, as_json: bool) -> dict[str, Any]:
    """Until it is over; each step is told as it is made."""
    told: set[str] = set()
    while True:
        seen = ask(place, "drill", {"how": "look"})
        data = seen["data"]
        if not data or data.get("over"):
            return seen
        for line in _steps(data["course"]):
            if line not in told and not as_json:
                told.add(line)
                click.echo(f"  {line}")
        time.sleep(LOOK_S)


def _kept(place: Place) -> dict[str, Any]:
    """The newest report in the journal."""
    from .log import rows

    reports = [
        r for _, line in rows(place, None, ("drill",)) if (r := json.loads(line).get("report"))
    ]
    if not reports:
        return {"code": REFUSED, "text": "there has been no drill yet", "data": {}}
    newest = reports[-1]
    code = 0 if newest["good"] else 1
    return {"code": code, "text": newest["verdict"], "data": {"report": newest}}


def _steps(course: dict[str, Any]) -> list[str]:
    begun_s = course["begun_s"]
    lines = [f"heard or seen: {name}" for name in course["sound_s"]]
    for name, way in course["ways"].items():
        if way["delivered_s"] is not None:
            lines.append(f"sent: {name} after {way['delivered_s'] - begun_s:.1f} s")
    if course["answered_s"] is not None:
        lines.append(f"answered after {course['answered_s'] - begun_s:.1f} s")
    return lines


def _end(answer: dict[str, Any], as_json: bool) -> None:
    """The report, and the exit code."""
    code, text, report = int(answer["code"]), clean(str(answer["text"])), {}
    report = answer["data"].get("report", {})
    if as_json:
        click.echo(json.dumps({"code": code, "text": text, **report}))
    elif code >= REFUSED and not report:
        click.echo(f"refused: {text}", err=True)
    else:
        click.echo("\n".join(report_lines(text, report)))
    sys.exit(code)


def report_lines(verdict: str, report: dict[str, Any]) -> list[str]:
    """The report as a person reads it."""
    width = max((len(step["what"]) for step in report.get("steps", ())), default=0)
    lines = ["DRILL REPORT"]
    for step in report.get("steps", ()):
        after, limit = step["after_s"], step["limit_s"]
        shown = "never" if after is None else f"{after:.1f} s"
        if limit is not None:
            shown = f"{shown:>8}   within {limit:g} s"
        mark = "FAILED" if step["good"] is False else "good"
        remark = f"  {clean(step['remark'])}" if step["remark"] else ""
        lines.append(f"  {clean(step['what']):<{width}}  {shown}  {mark}{remark}")
    lines.append(f"{'PROVED: ' if report.get('good') else ''}{verdict}")
    lines.append(
        "A drill proves the chain of tonight. That the phone woke you, and that the sounder is "
        "loud enough by the pillow, only you can tell."
    )
    return lines
