"""What `anchor` answers: the swing circle, how it was reckoned, what was missing, a better mark."""

from __future__ import annotations

import math

from ..picture.watch import WatchSet
from ..words.geo import LatLon, format_position, range_bearing
from .anchoring.estimator import AnchorEstimator
from .anchoring.rode import chain_weight_n_per_m, usual_chain_m

COSTS = {
    "wind": "no wind: the rode is taken as fully stretched, a drag shows later",
    "heading": "no heading: the antenna may be on any side of the bow, a drag shows later",
    "depth": "no sounder: the depth is taken as entered",
    "speed": "no speed from the receiver (or none when slow): fixes alone show a drag, so later",
}


def explain_lines(
    estimator: AnchorEstimator,
    watch: WatchSet,
    limit_m: float,
    odds: str,
    dwell_s: float,
    missing: tuple[str, ...],
    better: LatLon | None,
) -> list[str]:
    """Plain sentences, one a line."""
    mark = watch.mark
    assert mark is not None
    setting, reaches = estimator.setting, estimator.reaches
    aft = setting.antenna_aft_m
    lever = aft if aft is not None else 0.8 * setting.length_m
    if setting.kind == "anchored":
        lines = _rode_lines(estimator)
        circle = reaches.taut_m() + lever
        where = f"swing circle of the antenna: {circle:.0f} m about the mark"
    else:
        given = "given" if setting.rode_m is not None else "not given: taken as"
        lines = [f"the boat may lie {reaches.rode_m:.1f} m from the mark ({given})"]
        where = f"the antenna may lie {reaches.rode_m + lever:.0f} m from the mark"
    why = f"{lever:.1f} m from bow to antenna" + ("" if aft is not None else ", not given: taken")
    lines.append(f"{where} ({why})")
    beyond = f"drag is an alarm {limit_m:.1f} m beyond the reach, for {dwell_s:g} s"
    lines.append(
        beyond + (f": a boat that holds comes there {odds}, by simulation" if odds else "")
    )
    for name in missing:
        if name == "depth" and setting.depth_m is None:
            continue  # said above
        lines.append(COSTS.get(name, f"no {name}"))
    if better is not None:
        away, bears = range_bearing(mark.place, better)
        lines.append(
            f"by how she has lain the anchor seems to be {away:.0f} m from the mark, bearing "
            f"{bears:03.0f}; to move the mark there: shipkeeper anchor move "
            f"{better.lat:.5f},{better.lon:.5f} ({format_position(better.lat, better.lon)})"
        )
    return lines


def _rode_lines(estimator: AnchorEstimator) -> list[str]:
    setting, reaches = estimator.setting, estimator.reaches
    lines = []
    height, rode = reaches.height_m, reaches.rode_m
    if setting.rode_m is None:
        lines.append(
            "RODE NOT GIVEN: up to 60 m are allowed for, so a drag shows late. "
            "Give it: shipkeeper anchor veer --rode '30 m'"
        )
    if setting.depth_m is None and "depth" in reaches.missing:
        lines.append("DEPTH NOT GIVEN: 3 m are taken. Give it: --depth '6 m'")
    high = height + setting.rise_m
    taken = "taken as " if setting.rode_m is None else ""
    scope = f"{rode / height:.1f} to 1" if height > 0 else "no depth"
    if setting.rise_m > 0:
        scope += f", {rode / high:.1f} to 1 at high water"
    size = setting.chain_size_m or usual_chain_m(setting.length_m)
    kind = "chain and rope" if setting.rode_kind == "mixed" else f"{size * 1000:.0f} mm chain"
    weight = chain_weight_n_per_m(size)
    lines.append(
        f"rode {taken}{rode:g} m ({kind}), bow {height:.1f} m above the bottom: scope {scope}; "
        f"taut it reaches {reaches.taut_m():.1f} m"
        + (f", {weight:.0f} N/m in water" if setting.rode_kind != "mixed" else "")
    )
    if rode <= high:
        lines.append("THE RODE IS SHORTER THAN THE DEPTH: she cannot be anchored with it")
    elif rode / max(high, 0.1) < 3.0 and math.isfinite(rode):
        lines.append("less than three times the depth: an anchor holds badly (common practice)")
    return lines
