"""A chart over the time of the night: axis, gaps, limits; shared by all graphs and the timeline."""

from __future__ import annotations

from collections.abc import Sequence

from ...words.timing import clock_text
from .night import Night, Span
from .svg import Canvas, Xy, steps, thinned

HOUR_S = 3600.0
GAP_S = 60.0  # without a value for longer the line is broken
_TICKS_S = (300.0, 900.0, 1800.0, 3600.0, 7200.0, 14_400.0, 21_600.0, 43_200.0, 86_400.0)


class TimeAxis:
    """Seconds to pixels."""

    def __init__(self, first_s: float, last_s: float, left: float, right: float) -> None:
        self.first_s, self.last_s = first_s, max(last_s, first_s + 1.0)
        self.left, self.right = left, right

    def x(self, at_s: float) -> float:
        share = (at_s - self.first_s) / (self.last_s - self.first_s)
        return self.left + min(1.0, max(0.0, share)) * (self.right - self.left)

    def ticks(self) -> list[float]:
        most = max(2, int((self.right - self.left) / 62))
        span = self.last_s - self.first_s
        size = next((t for t in _TICKS_S if span / t <= most), 86_400.0 * (span // 86_400 // 6 + 1))
        first = -(-self.first_s // size) * size
        return [first + i * size for i in range(int((self.last_s - first) / size) + 1)]

    def draw(self, canvas: Canvas, top: float, bottom: float, *, label: bool = True) -> None:
        for at_s in self.ticks():
            x = self.x(at_s)
            canvas.line((x, top), (x, bottom), "grid")
            if label and 16 <= x <= canvas.width - 16:
                canvas.text(x, bottom + 14, clock_text(at_s), "tick", "middle")


def graph(
    night: Night,
    width: float,
    title: str,
    unit: str,
    values: Sequence[tuple[float, float | None]],
    *,
    limits: Sequence[tuple[float, str]] = (),
    floor: float | None = 0.0,
    ceiling: float | None = None,
    upside_down: bool = False,
    height: float = 128.0,
    least_span: float = 1.0,
) -> str:
    """One line over the night. Where there is no value, there is no line."""
    known = [v for _, v in values if v is not None]
    canvas = Canvas(width, height, title)
    top, bottom, left = 24.0, height - 22.0, 38.0
    axis = TimeAxis(night.first_s, night.last_s, left, width - 10)
    canvas.text(0, 13, title, "head")
    axis.draw(canvas, top, bottom)
    shade(canvas, axis, night.log.breaks, top, bottom)
    if not known:
        canvas.text(
            (left + width) / 2, (top + bottom) / 2, "no data in this night", "none", "middle"
        )
        return canvas.svg()
    shown = [at for at, _ in limits if _near(at, known)]
    low = min([*known, *shown]) if floor is None else floor
    high = max([*known, *shown])
    if ceiling is not None:
        high = min(high, ceiling)
    if high - low < least_span:
        high = low + least_span
    high += 0.06 * (high - low)
    if floor is None:
        low -= 0.06 * (high - low)

    def y(value: float) -> float:
        share = (min(value, high) - low) / (high - low)
        return top + share * (bottom - top) if upside_down else bottom - share * (bottom - top)

    for value in steps(low, high, 4):
        canvas.line((left, y(value)), (width - 10, y(value)), "grid")
        canvas.text(left - 5, y(value) + 4, f"{value:g}", "tick", "end")
    for at, words in limits:
        if low <= at <= high:
            canvas.line((left, y(at)), (width - 10, y(at)), "limit")
            canvas.text(width - 12, y(at) - 4, f"{words} {at:.3g} {unit}", "limitword", "end")
    for piece in pieces(values):
        canvas.path(thinned([(axis.x(t), y(v)) for t, v in piece]), "curve")
        if len(piece) == 1:
            canvas.circle(axis.x(piece[0][0]), y(piece[0][1]), 1.5, "dot")
    return canvas.svg()


def pieces(values: Sequence[tuple[float, float | None]]) -> list[list[Xy]]:
    """Runs of values without a gap."""
    runs: list[list[Xy]] = []
    last_s = float("-inf")
    for at_s, value in values:
        if value is None:
            last_s = float("-inf")
            continue
        if not runs or at_s - last_s > GAP_S:
            runs.append([])
        runs[-1].append((at_s, value))
        last_s = at_s
    return runs


def shade(
    canvas: Canvas, axis: TimeAxis, spans: Sequence[Span], top: float, bottom: float,
    cls: str = "break",
) -> None:  # fmt: skip
    """Spans in which nothing was known or nobody watched."""
    for a, b in spans:
        if b >= axis.first_s and a <= axis.last_s:
            canvas.rect(axis.x(a), top, max(1.0, axis.x(b) - axis.x(a)), bottom - top, cls)


def _near(limit: float, known: Sequence[float]) -> bool:
    """A limit far from anything that was measured would flatten the curve."""
    low, high = min(known), max(known)
    reach = max(high - low, 0.5 * abs(high), 1e-6)
    return low - reach <= limit <= high + reach
