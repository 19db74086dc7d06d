"""SVG written by hand: shapes with classes, coloured by the page, so that it prints and darkens."""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence

Xy = tuple[float, float]


class Canvas:
    """One drawing. Coordinates in pixels, x right, y down."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.width, self.height, self.title = width, height, title
        self._parts: list[str] = []

    def text(self, x: float, y: float, words: str, cls: str = "", anchor: str = "start") -> None:
        place = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self._parts.append(f'<text x="{_n(x)}" y="{_n(y)}"{place}{_c(cls)}>{esc(words)}</text>')

    def line(self, a: Xy, b: Xy, cls: str = "") -> None:
        self._parts.append(
            f'<line x1="{_n(a[0])}" y1="{_n(a[1])}" x2="{_n(b[0])}" y2="{_n(b[1])}"{_c(cls)}/>'
        )

    def path(self, points: Sequence[Xy], cls: str = "", *, closed: bool = False) -> None:
        if len(points) < 2:
            return
        steps = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        shape = "polygon" if closed else "polyline"
        self._parts.append(f'<{shape} points="{steps}"{_c(cls)}/>')

    def circle(self, x: float, y: float, r: float, cls: str = "") -> None:
        self._parts.append(f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(r)}"{_c(cls)}/>')

    def rect(self, x: float, y: float, w: float, h: float, cls: str = "") -> None:
        self._parts.append(
            f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(max(0.0, w))}" height="{_n(h)}"{_c(cls)}/>'
        )

    def raw(self, text: str) -> None:
        self._parts.append(text)

    def clipped(self, name: str, box: tuple[float, float, float, float], inner: Canvas) -> None:
        """Another canvas's shapes, cut off at a box."""
        x, y, w, h = box
        self._parts.append(
            f'<clipPath id="{name}"><rect x="{_n(x)}" y="{_n(y)}" width="{_n(w)}" '
            f'height="{_n(h)}"/></clipPath><g clip-path="url(#{name})">'
        )
        self._parts += inner._parts
        self._parts.append("</g>")

    def svg(self) -> str:
        return (
            f'<svg viewBox="0 0 {_n(self.width)} {_n(self.height)}" role="img" '
            f'aria-label="{esc(self.title)}">{"".join(self._parts)}</svg>'
        )


def both(narrow: str, wide: str) -> str:
    """One drawing for a phone and one for a wide page; the page shows the one that fits."""
    return f'<div class="narrow">{narrow}</div><div class="wide">{wide}</div>'


def esc(text: str) -> str:
    """Names from the air are text, never markup."""
    return html.escape("".join(c if c.isprintable() else "?" for c in text))


def thinned(points: Sequence[Xy], least_px: float = 0.7) -> list[Xy]:
    """Points that differ by what can be seen."""
    kept: list[Xy] = []
    for point in points:
        if kept and abs(point[0] - kept[-1][0]) + abs(point[1] - kept[-1][1]) < least_px:
            continue
        kept.append(point)
    if points and kept[-1] != points[-1]:
        kept.append(points[-1])
    return kept


def steps(low: float, high: float, most: int) -> list[float]:
    """Round values within the range, at most so many."""
    span = max(high - low, 1e-9)
    unit = 10.0 ** _floor_log10(span / most)
    size = next(m * unit for m in (1, 2, 5, 10, 20) if span / (m * unit) <= most)
    first = -(-low // size) * size
    count = int((high - first) / size + 1e-9) + 1
    return [round(first + i * size, 10) for i in range(max(0, count))]


def nearest_round(value: float) -> float:
    """1, 2 or 5 times a power of ten, at most the value."""
    unit = 10.0 ** _floor_log10(value)
    return max(m * unit for m in (1, 2, 5) if m * unit <= value * 1.000001)


def _floor_log10(value: float) -> int:
    return math.floor(math.log10(value))


def _n(value: float) -> str:
    text = f"{value:.1f}"
    return text.removesuffix(".0")


def _c(cls: str) -> str:
    return f' class="{cls}"' if cls else ""


def joined(parts: Iterable[str]) -> str:
    return "\n".join(part for part in parts if part)
