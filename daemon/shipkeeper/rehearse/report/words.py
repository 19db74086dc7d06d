"""The night in a paragraph: what happened, how near, how strong, who answered; short words."""

from __future__ import annotations

import math

from ...words.geo import LatLon, east_north
from ...words.timing import clock_text, duration_text
from ...words.units import MS_PER_KN
from .night import Night
from .plan import distance

_AT = {"anchored": "lay at anchor", "moored": "lay on a mooring", "berthed": "lay in a berth",
       "underway": "was under way", "off": "had no watch set"}  # fmt: skip
MOST = 4  # alerts told of in the paragraph


def paragraph(night: Night) -> str:
    """Plain sentences. The most urgent first."""
    said = [_dragged(night), _raised(night), _blind(night), _answers(night), _watch(night)]
    said += [_lay(night), _weather(night), _ships(night)]
    return " ".join(sentence for sentence in said if sentence)


def headline(night: Night) -> str:
    """The same in a few words."""
    wakes = night.figures["wake_ups"]
    if night.drags:
        return f"DRAG ALARM at {clock_text(night.drags[0][0])}"
    if wakes:
        return "1 wake-up" if wakes == 1 else f"{wakes} wake-ups"
    if night.watch is not None and night.watch.watch == "off":
        return "No watch was set"
    blind = sum(b - a for a, b in night.no_position)
    if blind >= 60:
        return f"Quiet, but no position for {duration_text(blind)}"
    return "A quiet night"


def _dragged(night: Night) -> str:
    if not night.drags:
        return ""
    begins, ends = night.drags[0]
    raised = next(o for o in night.announced if o.raised_s == begins)
    far = "" if raised.far_m is None else f", {raised.far_m:.0f} m from the mark"
    text = f"The alarm for a dragging anchor came at {clock_text(begins)}{far}"
    if len(night.drags) > 1:
        text += f", and {len(night.drags) - 1} times more"
    elif ends >= night.last_s:
        text += ", and stood to the end"
    return text + "."


def _raised(night: Night) -> str:
    wakes = [one for one in night.announced if one.wakes]
    if not wakes:
        if night.watch is not None and night.watch.watch == "off":
            return ""
        quiet = "Nobody had to be woken."
        if any(r.table == "drag" for r in night.orders.rules) and night.log.anchored:
            quiet += " The drag rule stayed quiet."
        return quiet
    told = [f"{clock_text(one.raised_s)} {first_words(one.text)}" for one in wakes]
    more = f" and {len(told) - MOST} more" if len(told) > MOST else ""
    times = "once" if len(wakes) == 1 else f"{len(wakes)} times"
    count = len(night.announced)
    if count > len(wakes):
        times += f", for {count} alerts"
    return f"The watch called {times}: {'; '.join(told[:MOST])}{more}."


def first_words(text: str) -> str:
    """The first sentence of an alert's text, without a full stop."""
    first = text.split(". ")[0].rstrip(".")
    return first if len(first) <= 110 else first[:107] + "..."


def _watch(night: Night) -> str:
    watch, name = night.watch, night.orders.vessel.name
    span = f"{clock_text(night.first_s)} to {clock_text(night.last_s)} UTC"
    long = duration_text(night.last_s - night.first_s)
    if watch is None:
        return f"{name}, {span} ({long})."
    text = f"{name} {_AT.get(watch.watch, watch.watch)} from {span} ({long})"
    mark = watch.mark
    if mark is not None and mark.rode_m is not None:
        depth = "" if mark.depth_m is None else f" in {mark.depth_m:.3g} m of water"
        text += f", with {mark.rode_m:.3g} m of rode{depth}"
    if watch.crew == "ashore":
        text += ", the crew ashore"
    return text + "."


def _lay(night: Night) -> str:
    mark = night.mark
    if mark is None or not night.places:
        return ""
    away = [math.hypot(*east_north(mark, LatLon(lat, lon))) for _, lat, lon in night.places]
    text = f"She lay {min(away):.0f} to {max(away):.0f} m from the mark"
    if night.drags:
        text += f", and {away[-1]:.0f} m at the end"
    return text + "."


def _weather(night: Night) -> str:
    winds = [s.wind_ms / MS_PER_KN for s in night.log.samples if s.wind_ms is not None]
    depths = [s.depth_m for s in night.log.samples if s.depth_m is not None]
    said = []
    if winds:
        middle = sorted(winds)[len(winds) // 2]
        said.append(f"the wind blew {middle:.0f} kn, at most {max(winds):.0f}")
    if depths:
        said.append(f"the water was {min(depths):.1f} to {max(depths):.1f} m deep")
    if not said:
        return "No wind and no depth came in."
    text = " and ".join(said)
    return text[0].upper() + text[1:] + "."


def _ships(night: Night) -> str:
    ships = sorted(night.log.ships.values(), key=lambda s: s.nearest_m)
    if not ships:
        return "No ship was heard within 3 NM."
    near = ships[0]
    return (
        f"Nearest of {len(ships)} ships: {near.name}, {distance(near.nearest_m)} "
        f"at {clock_text(near.nearest_s)}."
        if len(ships) > 1
        else f"The only ship heard: {near.name}, {distance(near.nearest_m)} "
        f"at {clock_text(near.nearest_s)}."
    )


def _blind(night: Night) -> str:
    lost = night.no_position
    total = sum(b - a for a, b in lost)
    said = []
    if total >= 20:
        times = ", ".join(f"{clock_text(a)} to {clock_text(b)}" for a, b in lost[:3])
        said.append(f"There was no position for {duration_text(total)} ({times}).")
    if night.log.breaks:
        times = ", ".join(f"{clock_text(a)} to {clock_text(b)}" for a, b in night.log.breaks[:3])
        said.append(f"Nobody watched from {times}.")
    return " ".join(said)


def _answers(night: Night) -> str:
    open_ = [one for one in night.announced if not one.answered]
    if not night.announced:
        return ""
    if not open_:
        return "All of it was acknowledged."
    count, whole = len(open_), len(night.announced)
    return f"Nobody acknowledged {'it' if whole == 1 else f'{count} of {whole} alerts'}."
