"""Plain text for people: aligned columns, no colours, nothing from the air taken on trust.

A ship's name or a safety text may hold anything; what is not printable never reaches the
terminal.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

KN = 1852.0 / 3600.0
NM_M = 1852.0
DASH = "-"
INDENT = " " * 10


def clean(text: str, *, lines: bool = False) -> str:
    """Only printable characters; line ends stay where `lines`."""
    return "".join(c if c.isprintable() or (lines and c == "\n") else "?" for c in text)


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], right: str = "") -> str:
    """Columns aligned by width; `right` names those that align to the right."""
    cells = [[clean(str(cell)) for cell in row] for row in rows]
    widths = [max([len(head), *(len(row[i]) for row in cells)]) for i, head in enumerate(heads)]
    flush = set(right.split(","))

    def line(row: Sequence[str]) -> str:
        parts = [
            cell.rjust(width) if head in flush else cell.ljust(width)
            for cell, width, head in zip(row, widths, heads, strict=True)
        ]
        return "  ".join(parts).rstrip()

    return "\n".join([line(heads), *(line(row) for row in cells)])


def length(metres: float | None) -> str:
    """45.2 -> '45 m'; 1500 -> '0.81 NM'; None -> '-'."""
    if metres is None:
        return DASH
    return f"{metres:.0f} m" if abs(metres) < 0.2 * NM_M else f"{metres / NM_M:.2f} NM"


def bearing(degrees: float | None) -> str:
    return DASH if degrees is None else f"{round(degrees) % 360:03d}"


def knots(speed_ms: float | None) -> str:
    return DASH if speed_ms is None else f"{speed_ms / KN:.1f} kn"


def span(seconds: float | None) -> str:
    """45 -> '45 s'; -130 -> '-2:10'; 7200 -> '2 h 00'."""
    if seconds is None:
        return DASH
    sign, whole = "-" if seconds < -0.5 else "", abs(round(seconds))
    if whole < 100:
        return f"{sign}{whole} s"
    minutes, rest = divmod(whole, 60)
    return (
        f"{sign}{minutes}:{rest:02d}"
        if minutes < 100
        else f"{sign}{minutes // 60} h {minutes % 60:02d}"
    )


def clock(label: str | None) -> str:
    """'2026-06-12T02:13:45.000Z' -> '06-12 02:13:45'."""
    return DASH if not label else f"{label[5:10]} {label[11:19]}"


def position(lat: float | None, lon: float | None) -> str:
    from ..words.geo import format_position

    return DASH if lat is None or lon is None else format_position(lat, lon)


def alerts_text(rows: Sequence[dict[str, Any]]) -> str:
    """The alerts that stand, the most urgent first, each with its words below, in 80 columns."""
    if not rows:
        return "no alerts"
    out = []
    for row in rows:
        times = "" if row["occurrence"] <= 1 else f", occurrence {row['occurrence']}"
        marks = "".join(
            f"  [{mark}]"
            for mark, on in (("DRILL", row.get("drill")), ("DATA LOST", row.get("data_lost")))
            if on
        )
        lead = (
            f"{row['priority'].upper():<9} {row['state']:<22} {clock(row['raised'])}  "
            f"{row['id']} #{row['number']}{times}{marks}"
        )
        out.append(clean(lead))
        for line in clean(row["text"], lines=True).splitlines():
            out += textwrap.wrap(line, 80, initial_indent=INDENT, subsequent_indent=INDENT)
    return "\n".join(out)


def status_text(data: dict[str, Any]) -> str:
    """All that `status` knows, in paragraphs."""
    parts = [_watch(data), _own(data["own"]), _inputs(data["inputs"]), _targets(data)]
    parts.append(_rules(data["rules"]))
    parts += [_outlets(data["outlets"]), _daemon(data.get("daemon"))]
    parts.append(alerts_text(data["alerts"]))
    return "\n\n".join(part for part in parts if part)


def _watch(data: dict[str, Any]) -> str:
    lines = [
        f"{data['vessel']}: {data['watch'].upper()} since {clock(data['since'])}, "
        f"crew {data['crew']}; now {clock(data['at'])} UTC ({data['time_quality']})"
    ]
    holder = data.get("has_watch")
    if holder is not None:
        until = "" if holder["until"] is None else f" until {clock(holder['until'])} UTC"
        lines.append(f"{holder['who']} has the watch{until}")
    for name, why in (data.get("out_of_service") or {}).items():
        lines.append(f"OUT OF SERVICE: {name}: {why}")
    mark = data.get("mark")
    if mark is not None:
        rode = "" if mark.get("rode_m") is None else f", rode {mark['rode_m']:g} m"
        depth = "" if mark.get("depth_m") is None else f", depth {mark['depth_m']:g} m"
        lines.append(f"mark {position(mark['lat'], mark['lon'])}{rode}{depth}")
    return clean("\n".join(lines), lines=True)


def _own(own: dict[str, Any]) -> str:
    if own["lat"] is None:
        place = "NO POSITION NOW"
        if own["last_lat"] is not None:
            place += f"; last {position(own['last_lat'], own['last_lon'])}"
    else:
        place = position(own["lat"], own["lon"])
    depth = own["depth_below_transducer_m"]
    facts = [
        f"own ship {place}",
        f"  fix {span(own['position_age_s'])} old from {own['position_source'] or DASH}",
        f"  heading {bearing(own['heading_deg'])}, course {bearing(own['course_deg'])}, "
        f"speed {knots(own['speed_ms'])}",
        f"  wind {knots(own['wind_ms'])} from {bearing(own['wind_from_deg'])}, "
        f"depth {DASH if depth is None else f'{depth:.1f} m'} below the transducer",
    ]
    return clean("\n".join(facts), lines=True)


def _inputs(rows: Sequence[dict[str, Any]]) -> str:
    cells = [
        (
            row["name"],
            {True: "up", False: "DOWN", None: "no news"}[row["up"]],
            span(row["last_line_age_s"]),
            str(row["good"]),
            str(row["unused"]),
            str(row["bad"]),
            ", ".join(row["brings"]) or "nothing yet",
            _remark(row),
        )
        for row in rows
    ]
    heads = ("input", "wire", "heard", "good", "unused", "bad", "brings", "remark")
    return table(heads, cells, right="heard,good,unused,bad") if rows else "no inputs"


def _targets(data: dict[str, Any]) -> str:
    """How many there are, how much room is left, what came of those there was none for."""
    if "targets" not in data:
        return ""
    held = f"targets {data['targets']} of {data['target_room']} at most"
    if data["targets_lost"]:
        held += f", {data['targets_lost']} lost"
    if data["targets_shed"]:
        held += f", {data['targets_shed']} let go for want of room"
    return held


def _remark(row: dict[str, Any]) -> str:
    """What is wrong with an input, or was last."""
    fault = row.get("fault")
    last = f"last bad: {row['last_bad']}" if row["last_bad"] else ""
    parts = (row.get("unread"), fault and f"FAULT: {fault}", row["why"] or last)
    return "; ".join(part for part in parts if part)


def _rules(rows: Sequence[dict[str, Any]]) -> str:
    """A line a rule; what keeps it from raising is below it, one filter a line."""
    cells = []
    for row in rows:
        stands = "stands" if row["standing"] else "not in this watch"
        if row["standing"] and row["lacks"]:
            stands = f"CANNOT BE JUDGED: no {', '.join(row['lacks'])}"
        cells.append((row["name"], row["kind"], stands))
    heads, *lines = table(("rule", "kind", "now"), cells).splitlines()
    out = [heads]
    for line, row in zip(lines, rows, strict=True):
        out.append(line)
        out += [clean(f"    {told}") for told in row["filters"]]
    return "\n".join(out)


def _outlets(rows: Sequence[dict[str, Any]]) -> str:
    if not rows:
        return "NO OUTLETS: nobody is called"
    cells = [
        (
            row["name"],
            row["kind"],
            {True: "up", False: "DOWN", None: "no news"}[row["up"]],
            row["from_priority"],
            row["why"],
        )
        for row in rows
    ]
    return table(("outlet", "kind", "state", "told from", "remark"), cells)


def _daemon(data: dict[str, Any] | None) -> str:
    if not data:
        return ""
    lines = [
        f"daemon {data['version']}, up {span(data['up_s'])}, "
        f"latest at most {data['worst_lateness_s']:.3f} s, {data['waiting_events']} events waiting"
    ]
    if data["dropped_lines"]:
        lines.append(f"  {data['dropped_lines']} lines dropped: more came in than could be judged")
    if data["recording_lost"]:
        lines.append(f"  {data['recording_lost']} events missing in the recording")
    if not data["store_ok"]:
        lines.append("  THE STORE DOES NOT WORK: nothing is kept over a restart")
    lines += [f"  no progress: {part}" for part in data["stuck"]]
    lines += [f"  {name} started again {n} times" for name, n in data["restarts"].items() if n]
    lines += [f"  left behind, hanging: {name}" for name in data["abandoned"]]
    return clean("\n".join(lines), lines=True)
