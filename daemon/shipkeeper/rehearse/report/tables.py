"""What is told in tables: the alerts, what nobody acknowledged, alarm load, health of the feed."""

from __future__ import annotations

from ...words.timing import clock_text, duration_text
from ..occurrences import Occurrence
from .night import Night
from .occurrence_words import ended
from .svg import esc
from .timeline import CLASSES
from .words import first_words

MOST = 60


def alerts(night: Night) -> str:
    """Every alert that was raised, in order of time."""
    if not night.found:
        return "<p>Nothing was raised.</p>"
    rows = "".join(_alert(night, one) for one in night.found[:MOST])
    more = len(night.found) - MOST
    return (
        "<table class='alerts'><thead><tr><th>UTC</th><th>priority</th><th>what was told</th>"
        f"<th>what became of it</th></tr></thead><tbody>{rows}</tbody></table>"
        + (f"<p class='note'>and {more} more</p>" if more > 0 else "")
    )


def _alert(night: Night, one: Occurrence) -> str:
    """One row; what another alert spoke for is told in short."""
    text = first_words(one.text) if one.led else one.text
    cls = CLASSES.get(one.highest, "alarm")
    return (
        f"<tr><td>{clock_text(one.raised_s)}</td>"
        f'<td><span class="mark {cls}">{esc(one.highest)}</span></td>'
        f"<td>{esc(text)}</td><td>{esc(ended(night, one))}</td></tr>"
    )


def unanswered(night: Night) -> str:
    """What nobody acknowledged."""
    open_ = [one for one in night.announced if not one.answered]
    if not open_:
        none = "Nothing was announced." if not night.announced else "All of it was acknowledged."
        return f"<p>{none}</p>"
    spoke = [one for one in open_ if one.wakes]
    rows = "".join(
        f"<li><b>{clock_text(one.raised_s)}</b> {esc(one.highest)}: {esc(one.alert)}, "
        f"{esc(ended(night, one).replace('not acknowledged, ', ''))}</li>"
        for one in spoke[:MOST]
    )
    led = len(open_) - len(spoke)
    if led:
        rows += f"<li>and {led} more, told together with these</li>"
    return f"<ul>{rows}</ul>"


def load(night: Night) -> str:
    """The figures beside what is aimed at."""
    f = night.figures
    nights = max(1, len(f["nights"]))
    rows: list[tuple[str, str, str, bool]] = [
        ("wake-ups in a night", f"{f['wake_ups'] / nights:.3g}", "", True),
        ("of these for nothing (over within 10 min, unanswered)",
         f"{f['nuisance_wake_ups'] / nights:.3g}", "at most 0.1",
         f["nuisance_wake_ups_per_night"] <= 0.1),
        ("announcements in an hour", f"{f['per_hour']:.2g}", "at most 6", f["per_hour"] <= 6),
        ("most in ten minutes", str(f["most_in_10_min"]), "at most 3 for a sleeper",
         f["most_in_10_min"] <= 3),
        ("alerts that chatter (3 raises in a minute)", str(len(f["chattering"])), "0",
         not f["chattering"]),
        ("fleeting (over within 10 s)", str(f["fleeting"]), "0", not f["fleeting"]),
        ("standing for over a day", str(len(f["stale"])), "0", not f["stale"]),
        ("different alerts in one incident", str(f["most_alerts_in_one_incident"]), "1",
         f["most_alerts_in_one_incident"] <= 1),
        ("time in which something could not be judged", f"{f['share_of_time_unknown']:.1%}", "",
         True),
    ]  # fmt: skip
    body = "".join(
        f"<tr><td>{name}</td><td>{value}</td><td>{aim}</td><td>{'' if good else 'MORE'}</td></tr>"
        for name, value, aim, good in rows
    )
    shares = ", ".join(
        f"{esc(rule)} {n} ({f['share_by_rule'][rule]:.0%})" for rule, n in f["by_rule"].items()
    )
    unwritten = f.get("rules_without_consequence_or_response") or []
    return (
        "<table><thead><tr><th>figure</th><th>here</th><th>aim</th><th></th></tr></thead>"
        f"<tbody>{body}</tbody></table>"
        + (f'<p class="note">By rule: {shares}.</p>' if shares else "")
        + (
            f'<p class="note">Alarms without a written consequence and response: '
            f"{esc(', '.join(unwritten))}.</p>"
            if unwritten
            else ""
        )
    )


def feed(night: Night) -> str:
    """Each input: how much came, how much was wrong, when it was silent."""
    feeds = list(night.log.feeds.values())
    if not feeds:
        return "<p>No input brought anything.</p>"
    span = max(1.0, night.last_s - night.first_s)
    rows = []
    for one in feeds:
        silent = sum(b - a for a, b in one.silent)
        whole = one.good + one.bad + one.unused
        rows.append(
            f"<tr><td>{esc(one.name)}</td><td>{whole / span:.2g} a second</td>"
            f"<td>{_share(one.bad, whole)}</td><td>{_silences(one.silent, silent)}</td></tr>"
        )
    lost = sum(b - a for a, b in night.no_position)
    where = f"Position was known {1 - lost / span:.1%} of the time."
    torn = [name for o in night.outcomes for name in o.torn]
    cut = f" The recording ends in the middle: {esc(', '.join(torn))}." if torn else ""
    return (
        "<table><thead><tr><th>input</th><th>lines</th><th>wrong</th><th>silent</th></tr></thead>"
        f'<tbody>{"".join(rows)}</tbody></table><p class="note">{where}{cut}</p>'
    )


def _share(part: int, whole: int) -> str:
    return "none" if not part else f"{part / max(1, whole):.2%}"


def _silences(spans: list[tuple[float, float]], total_s: float) -> str:
    if not spans:
        return "never over 10 s"
    longest = max(spans, key=lambda s: s[1] - s[0])
    times = "once" if len(spans) == 1 else f"{len(spans)} times"
    return (
        f"{times}, {duration_text(total_s)} in all, longest "
        f"{clock_text(longest[0])} to {clock_text(longest[1])}"
    )
