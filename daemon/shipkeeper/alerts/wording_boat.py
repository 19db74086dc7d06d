"""What is said of the own boat: drag, depth, wind, sensors, contacts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..words.orders import RuleOrders
from ..words.timing import duration_text
from .phrases import TITLE_MAX, Facts, Words, bearing, bears, clean, joined, knots, metres

TIDE_SOON_S = 6.5 * 3600.0  # half a tide; while it rises, low water is far away


def drag(orders: RuleOrders, f: Facts) -> Words:
    over = f.get("excess_m")
    event = f.get("event", "dragging")
    away = joined(f"{metres(f.get('distance_m'))} from the mark", bears(f))
    more = []
    if event == "holding":
        line = f"Moved at least {metres(f.get('moved_m'))}, holding again; {away}"
    elif over is not None and over <= 0:
        line = f"Back where the anchor can hold her: {away}"
    elif f.get("mode") == "radius":
        line = f"Outside the circle by {metres(over)}: {away}"
    else:
        line = f"{metres(over)} beyond the reach of the rode: {away}"
    if f.get("made_good_m"):
        more.append(
            f"Moved {metres(f['made_good_m'])} towards {bearing(f.get('made_good_deg'))}"
            + (f" at {knots(f['speed_ms'])}" if f.get("speed_ms") else "")
        )
    if f.get("anchor_sigma_m") is not None:
        more.append(f"Anchor known to about {metres(f['anchor_sigma_m'])}")
    if f.get("wind_ms") is not None:
        more.append(f"Wind {knots(f['wind_ms'])}" + _was(f.get("wind_was_ms"), knots))
    if f.get("depth_m") is not None:
        more.append(f"Depth {f['depth_m']:.1f} m" + _was(f.get("depth_was_m"), metres))
    if f.get("odds") and event != "holding" and over is not None and over > 0:
        more.append(f"A boat that holds lies so {clean(f['odds'])}, by simulation")
    if f.get("fix_age_s") is not None and f["fix_age_s"] > 5:
        more.append(f"Last fix believed {duration_text(f['fix_age_s'])} ago")
    if f.get("missing"):
        more.append("Judged without " + ", ".join(map(str, f["missing"])))
    title = "DRAG? HOLDS NOW" if event == "holding" else "ANCHOR DRAGS"
    if f.get("only_early"):
        title = "DRAG? LOOK" if event != "holding" else title
    return Words(title, line, tuple(more))


def _was(value: Any, show: Callable[[Any], str]) -> str:
    return "" if value is None else f", {show(value)} when set"


def depth(orders: RuleOrders, f: Facts) -> Words:
    reference = {"keel": "under the keel", "waterline": "of water"}.get(
        str(f.get("reference")), "under the transducer"
    )
    depth = f.get("depth_m")
    shown = "?" if depth is None else f"{depth:.1f} m"
    limit = f.get("limit_m")
    if f.get("event") == "forecast":
        eta = duration_text(f.get("eta_s") or 0.0)
        return Words(
            "LOW WATER SOON",
            f"Will be under {limit:.1f} m {reference} in about {eta}; now {shown}"
            if limit is not None
            else f"Low water in about {eta}",
            (_tide(f, reference), "From the sounder's own record of the tide"),
        )
    if f.get("event") == "shoaling":
        rate = (f.get("rate_ms") or 0.0) * 60
        return Words("SHOALING FAST", f"Shoals {rate:.2f} m a minute; {shown} {reference}")
    title = "TOO DEEP" if f.get("deep") else "SHALLOW"
    against = "" if limit is None else f", limit {limit:.1f} m"
    return Words(
        title, f"{shown} {reference}{against}", ("" if f.get("deep") else _tide(f, reference),)
    )


def _tide(f: Facts, reference: str) -> str:
    """What the falling tide will come to, as far as it is known."""
    touches, low_s, low = f.get("touches_s"), f.get("low_s"), f.get("low_m")
    if touches is not None and touches <= TIDE_SOON_S:
        return f"Will touch in about {duration_text(touches)}"
    if low_s is None or low is None or low_s > TIDE_SOON_S:
        return ""
    return f"Low water in about {duration_text(low_s)}: {low:.1f} m {reference}"


def wind(orders: RuleOrders, f: Facts) -> Words:
    frame = f.get("frame", "true")
    from_ = f" from {bearing(f.get('from_deg'))}" if f.get("from_deg") is not None else ""
    mean, gust = knots(f.get("mean_ms")), knots(f.get("gust_ms"))
    if f.get("event") == "shift":
        side = "veered" if (f.get("shift_deg") or 0.0) > 0 else "backed"
        return Words(
            "WIND SHIFT",
            f"Wind has {side} {abs(f.get('shift_deg') or 0.0):.0f} degrees{from_}, mean {mean}",
        )
    if f.get("event") == "gust":
        return Words("GUSTS", f"Gust {gust}{from_} ({frame}), mean {mean}")
    most = getattr(orders, "stronger_than_ms", None)
    limit = f"limit {knots(most)}" if most is not None else ""
    # What blows this moment is a gust only while it is above the mean.
    gusts = f"gusts {gust}" if (f.get("gust_ms") or 0.0) > (f.get("mean_ms") or 0.0) else ""
    return Words("WIND", joined(f"Wind {mean}{from_} ({frame})", gusts, limit))


def sensor(orders: RuleOrders, f: Facts) -> Words:
    value, unit = f.get("value"), f.get("unit", "")
    shown = "?" if value is None else _measured(value, unit)
    name = clean(f.get("name", orders.name))
    event = f.get("event")
    if event in ("falls", "rises"):
        over = duration_text(f.get("over_s") or 0.0)
        return Words(name.upper(), f"{name} {event} by {shown} in {over}")
    if not event:
        return Words(name.upper(), f"{name} {shown}")
    limit = f.get("limit")
    against = "its limit" if limit is None else _measured(limit, unit)
    side = {"below": " LOW", "above": " HIGH"}.get(str(event), "")
    title = name.upper() + (side if len(name + side) <= TITLE_MAX else "")
    return Words(title, f"{name} is {shown}, {event} {against}")


def _measured(value: float, unit: Any) -> str:
    """12.10 -> '12.1 V'; 101325 -> '101325 Pa': four digits that count, never a power of ten."""
    digits = f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"
    return f"{digits} {unit}".strip()


def contact(orders: RuleOrders, f: Facts) -> Words:
    name = clean(f.get("name", orders.name))
    return Words(name.upper(), f"{name}: contact {'closed' if f.get('closed') else 'open'}")
