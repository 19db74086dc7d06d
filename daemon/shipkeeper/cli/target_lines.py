"""The table of targets for people: two lines a ship in 80 columns, one where there is room.

First what a navigator reads across: range, bearings, course, speed, CPA and when, bow crossing
and when, age. Then who it is, how we know, which zones she is in, what leaves her out.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import Any

from ..words.timing import duration_text
from .show import DASH, NM_M, bearing, clean, span

WIDE = 150  # columns from which one line is enough
NAME = 16
HULLS_WITHIN_M = 0.5 * NM_M  # from here on the way from hull to hull is told beside the range
_HEADS = ("target", "range", "brg", "rel", "cog", "kn", "CPA", "TCPA", "bow", "at", "age")
_WIDTHS = (NAME, 7, 3, 3, 3, 4, 7, 6, 8, 6, 6)


def targets_text(rows: Sequence[dict[str, Any]], columns: int = 80) -> str:
    if not rows:
        return "no targets"
    lines = [_figures(_HEADS)]
    for row in rows:
        first, remarks = _figures(_cells(row)), _remarks(row)
        if columns >= WIDE:
            lines.append(f"{first}  {'; '.join(remarks)}")
        else:
            lines += [first, *_folded(remarks, columns)]
    lost = sum(1 for row in rows if row["lost"])
    told = f"{len(rows)} target{'s' * (len(rows) != 1)}" + (
        f", {lost} of them LOST" if lost else ""
    )
    lines.append(f"{told}. Ranges and CPA from antenna to antenna; minus: past, or astern.")
    return "\n".join(lines)


def _figures(cells: Sequence[str]) -> str:
    name, *rest = cells
    figures = (cell.rjust(width) for cell, width in zip(rest, _WIDTHS[1:], strict=True))
    return " ".join([name[:NAME].ljust(NAME), *figures])


def _cells(row: dict[str, Any]) -> tuple[str, ...]:
    speed = row["speed_ms"]
    return (
        clean(row["name"]),
        _length(row["range_m"]),
        bearing(row["bearing_deg"]),
        bearing(row["relative_deg"]),
        bearing(row["course_deg"]),
        DASH if speed is None else f"{speed * 3600 / NM_M:.1f}",
        _length(row["cpa_m"], row["cpa_doubt_m"]),
        _when(row["tcpa_s"]),
        _length(row["bow_range_m"], row["cpa_doubt_m"]),
        _when(row["bow_time_s"]),
        _when(row["age_s"]),
    )


def _remarks(row: dict[str, Any]) -> list[str]:
    """The second line."""
    said = [f"{row['identity']} {row['source']}"]
    if row["station"] not in ("", "radar"):
        said[0] += f" {row['station']}"
    if row.get("ais_silent_s") is not None:
        said.append(f"AIS silent for {duration_text(row['ais_silent_s'])}")
    if row["lost"]:
        said.append("LOST")
    if row["held_back"]:
        said.append("JUMPED: not believed yet")
    if row["cpa_doubt_m"] and row["tcpa_s"] is not None and row["tcpa_s"] > 0:
        said.append(f"CPA +/- {_length(row['cpa_doubt_m'])}")
    near = row["hull_range_m"]
    if near is not None and row["range_m"] < HULLS_WITHIN_M:
        assumed = f" ({row['assumed']})" if row["assumed"] else ""
        said.append(f"hulls {_length(near)} apart{assumed}")
    if row["zones"]:
        said.append("in " + ", ".join(clean(name) for name in row["zones"]))
    if row["left_out_by"]:
        said.append("left out by " + ", ".join(clean(why) for why in row["left_out_by"]))
    return said


def _folded(remarks: Sequence[str], columns: int) -> list[str]:
    """Indented by two, broken between remarks; inside one only where it is too long."""
    held = "; ".join(remark.replace(" ", "\0") for remark in remarks)
    lines = textwrap.wrap(held, columns, initial_indent="  ", subsequent_indent="    ")
    return [line.replace("\0", " ") for line in lines]


def _length(metres: float | None, doubt_m: float | None = None) -> str:
    """45.2 -> '45m'; 1500 -> '0.81NM'; with a doubt of 300 m no finer than that."""
    if metres is None:
        return DASH
    if doubt_m and doubt_m >= 1.0:
        step = 10.0 ** math.floor(math.log10(doubt_m))
        metres = round(metres / step) * step
    if abs(metres) < 0.2 * NM_M:
        return f"{metres:.0f}m"
    return f"{metres / NM_M:.2f}NM" if abs(metres) < 100 * NM_M else f"{metres / NM_M:.0f}NM"


def _when(seconds: float | None) -> str:
    """Short, for a column of six: '45s', '-2:10', '31h'."""
    if seconds is None:
        return DASH
    if abs(seconds) >= 6000:
        return f"{seconds / 3600:.0f}h" if abs(seconds) < 3.6e6 else ">999h"
    return span(seconds).replace(" ", "")
