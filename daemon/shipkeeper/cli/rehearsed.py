"""How a rehearsal is told: as text for people, or as JSON lines."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Any

import click
import msgspec

from ..rehearse.compare import Compared
from ..rehearse.expect import Kept
from ..rehearse.load import DAY_S, HOUR_S
from ..rehearse.occurrences import Occurrence
from ..rehearse.sweep import Setting, Swept, as_rows, late_text
from ..rehearse.told import Outcome, all_told
from ..words.timing import duration_text, utc_text
from .show import clean, length, table

__all__ = ["Json", "Swept", "Text"]

_WORDS = {
    "same": "as before",
    "earlier": "EARLIER",
    "later": "LATER",
    "other priority": "OTHER PRIORITY",
    "new": "NEW",
    "gone": "GONE",
}


def _totals(outcomes: Sequence[Outcome], names: Sequence[str]) -> dict[str, Any]:
    return {
        "recordings": list(names),
        "passages": len(outcomes),
        "lines": sum(o.lines for o in outcomes),
        "transitions": sum(len(o.told) for o in outcomes),
        "ended_in_the_middle": [name for o in outcomes for name in o.torn],
        "not_watched": [o.not_watched for o in outcomes if o.not_watched],
    }


class Json:
    """One object a line, the summary last."""

    def night(
        self,
        outcomes: Sequence[Outcome],
        figures: dict[str, Any],
        kept: Sequence[Kept],
        names: Sequence[str],
    ) -> None:
        for one in all_told(outcomes):
            _line(one.transition)
        for expectation in kept:
            _line({"expectation": expectation})
        summary = {**_totals(outcomes, names), **figures}
        if kept:
            summary["expectations_kept"] = sum(1 for k in kept if k.kept)
            summary["expectations_broken"] = sum(1 for k in kept if not k.kept)
        _line({"summary": summary})

    def compared(
        self, changes: Sequence[Compared], figures: Sequence[dict[str, Any]], names: Sequence[str]
    ) -> None:
        for change in changes:
            _line({"compared": {**msgspec.to_builtins(change), "at": utc_text(change.at_s)}})
        _line(
            {
                "summary": {
                    "recordings": list(names),
                    "changes": _counted(changes),
                    "first": figures[0],
                    "second": figures[1],
                }
            }
        )

    def swept(self, swept: Swept, runs: Sequence[Sequence[Outcome]], names: Sequence[str]) -> None:
        for row in as_rows(swept):
            _line({"setting": row})
        _line(
            {
                "summary": {
                    "recordings": list(names),
                    "key": swept.key,
                    "rule": swept.rule,
                    "nights": swept.nights,
                    "events": swept.events,
                    "real_said_by": swept.said_by,
                    "recommended": swept.recommended,
                    "why": swept.why,
                    "evidence": swept.evidence,
                    "transitions": [sum(len(o.told) for o in outcomes) for outcomes in runs],
                }
            }
        )


class Text:
    """For a person at a terminal."""

    def night(
        self,
        outcomes: Sequence[Outcome],
        figures: dict[str, Any],
        kept: Sequence[Kept],
        names: Sequence[str],
    ) -> None:
        for one in all_told(outcomes):
            t = one.transition
            step = f"{t.priority:<8} {t.alert}: {t.from_} -> {t.to} ({t.reason})"
            click.echo(clean(f"{t.at}  {step}  {t.text}"))
        click.echo(_summary({**_totals(outcomes, names), **figures}))
        for expectation in kept:
            mark = "kept   " if expectation.kept else "BROKEN "
            click.echo(clean(f"{mark} {expectation.expectation.told()}"))
            if not expectation.kept:
                click.echo(clean(f"        it was: {expectation.was}"))
                if expectation.expectation.why:
                    click.echo(clean(f"        wanted because: {expectation.expectation.why}"))
        if kept:
            broken = sum(1 for k in kept if not k.kept)
            click.echo(f"{len(kept) - broken} of {len(kept)} expectations kept")

    def compared(
        self, changes: Sequence[Compared], figures: Sequence[dict[str, Any]], names: Sequence[str]
    ) -> None:
        rows = [_compared_row(change) for change in changes]
        if rows:
            click.echo(table(("when (UTC)", "alert", "now", "other orders", "change"), rows))
        else:
            click.echo("nothing was raised under either orders")
        counts = _counted(changes)
        told = ", ".join(f"{n} {_WORDS[c].lower()}" for c, n in counts.items() if n)
        first, second = figures
        click.echo(
            f"\n{told or 'no alerts'}\n"
            f"wake-ups {first['wake_ups']} now, {second['wake_ups']} under the other orders; "
            f"for nothing {first['nuisance_wake_ups']} and {second['nuisance_wake_ups']}"
        )

    def swept(self, swept: Swept, runs: Sequence[Sequence[Outcome]], names: Sequence[str]) -> None:
        heads = ("", swept.key, "for nothing", "a night", "real raised", "latest", "farthest")
        rows = [_setting_row(s, swept) for s in swept.settings]
        click.echo(table(heads, rows, right="for nothing,a night,real raised,farthest"))
        click.echo(
            "\nfor nothing: nuisance wake-ups; latest: after the earliest of these settings; "
            "farthest: how far it had come when raised\n"
        )
        if swept.recommended is None:
            click.echo(f"No recommendation: {swept.why}.")
        else:
            click.echo(f"Recommended: {swept.key} = {swept.recommended}: {swept.why}.")
        click.echo(f"Evidence: {swept.evidence}")


def _setting_row(setting: Setting, swept: Swept) -> tuple[str, ...]:
    return (
        "*" if setting.value == swept.recommended else "",
        setting.value,
        str(setting.nuisance),
        f"{setting.nuisance_per_night:.2f}",
        f"{setting.found} of {swept.events}",
        late_text(setting),
        length(setting.farthest_m),
    )


def _compared_row(change: Compared) -> tuple[str, ...]:
    moved = ""
    if change.change in ("earlier", "later") and change.seconds is not None:
        moved = f" by {duration_text(abs(change.seconds))}"
    return (
        utc_text(change.at_s)[5:19].replace("T", " "),
        change.alert,
        _raise(change.first),
        _raise(change.second),
        _WORDS[change.change] + moved,
    )


def _raise(one: Occurrence | None) -> str:
    if one is None:
        return "not raised"
    value = "" if one.value is None else f" at {one.value:g} {one.unit}"
    return f"{one.priority} {utc_text(one.raised_s)[11:19]}{value}"


def _counted(changes: Sequence[Compared]) -> dict[str, int]:
    return {word: sum(1 for c in changes if c.change == word) for word in _WORDS}


def _summary(summary: dict[str, Any]) -> str:
    """The figures that say most; --json has them all."""
    span = summary["span_s"]
    long = f"{span / HOUR_S:.1f} h" if span < 2 * DAY_S else f"{span / DAY_S:.1f} days"
    lines = [
        "",
        f"{summary['lines']} lines over {long}, {summary['transitions']} transitions",
        f"announced {summary['announcements']} times ({summary['per_hour']:.2g} an hour, at most "
        f"{summary['most_in_10_min']} in ten minutes), {summary['cautions']} caution(s)",
        f"wake-ups {summary['wake_ups']}, over {len(summary['nights'])} night(s): "
        f"{summary['nuisance_wake_ups']} for nothing (over within ten minutes, unanswered); "
        f"{summary['wake_ups_that_cleared_by_themselves']} cleared by themselves",
    ]
    for rule, count in summary["by_rule"].items():
        lines.append(f"  {rule}: {count} ({summary['share_by_rule'][rule]:.0%})")
    faults = [
        f"{len(summary['chattering'])} chattering" if summary["chattering"] else "",
        f"{summary['fleeting']} fleeting" if summary["fleeting"] else "",
        f"{len(summary['stale'])} standing for over a day" if summary["stale"] else "",
    ]
    if any(faults):
        lines.append("to mend: " + ", ".join(f for f in faults if f))
    if summary["share_of_time_unknown"]:
        lines.append(f"something could not be judged {summary['share_of_time_unknown']:.1%} of it:")
    for alert, seconds in summary["unknown_s"].items():
        lines.append(f"  {alert} could not be judged for {duration_text(seconds)}")
    lines += [f"ends in the middle: {name}" for name in summary["ended_in_the_middle"]]
    return clean("\n".join(lines), lines=True)


def _line(value: object) -> None:
    sys.stdout.buffer.write(msgspec.json.encode(value) + b"\n")
