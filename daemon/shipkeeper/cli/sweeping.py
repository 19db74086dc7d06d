"""`--sweep KEY=FROM..TO`: the values to try, as the orders would write them."""

from __future__ import annotations

import re

import click

STEPS = 6
_RANGE = re.compile(
    r"([+-]?[\d.]+)\s*([A-Za-z%/]*)\s*\.\.\s*([+-]?[\d.]+)\s*([A-Za-z%/]*)(?:/(\d+))?"
)
MOST = 100


def swept_values(text: str) -> tuple[str, list[str | float]]:
    """'drag.margin=5m..30m/6' -> ('drag.margin', ['5 m', '10 m', ...]); '/6' is the count.

    `drag.false_alarms=30..3650` stands for odds: '1 in 30 nights' and so on.
    """
    key, equals, span = text.partition("=")
    match = _RANGE.fullmatch(span.strip())
    if not equals or match is None:
        raise click.UsageError(
            f"--sweep {text!r}: expected KEY=FROM..TO, such as drag.margin=5m..30m "
            "(or with a count, drag.margin=5m..30m/11)"
        )
    low_text, low_unit, high_text, high_unit, count_text = match.groups()
    unit = high_unit or low_unit
    count = int(count_text) if count_text else STEPS
    try:
        low, high = float(low_text), float(high_text)
    except ValueError:
        raise click.UsageError(
            f"--sweep {text!r}: {low_text}..{high_text} are no numbers"
        ) from None
    if low_unit and low_unit != unit:
        raise click.UsageError(f"--sweep {text!r}: expected one unit, {low_unit} or {unit}")
    if not 2 <= count <= MOST or low == high:
        raise click.UsageError(
            f"--sweep {text!r}: expected 2 to {MOST} values, from one to another"
        )
    numbers = [low + (high - low) * i / (count - 1) for i in range(count)]
    key = key.strip()
    if key.endswith(".false_alarms"):
        ratio = high / low if low > 0 and high > 0 else 0.0
        if not ratio:
            raise click.UsageError(f"--sweep {text!r}: expected nights above 0")
        nights = [round(low * ratio ** (i / (count - 1))) for i in range(count)]
        return key, [f"1 in {n} nights" for n in dict.fromkeys(nights)]
    if unit:
        return key, [f"{_figure(n)} {unit}" for n in numbers]
    return key, [float(_figure(n)) for n in numbers]


def _figure(value: float) -> str:
    """At most four figures: a sweep finds no finer ones."""
    text = f"{value:.4g}"
    return f"{float(text):.6f}".rstrip("0").rstrip(".") if "e" in text else text
