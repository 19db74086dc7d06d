"""Quantities and positions as people type them on the command line: option callbacks."""

from __future__ import annotations

import re
from collections.abc import Callable

import click

from ..words.units import UnitError, parse_quantity

Reader = Callable[[click.Context, click.Parameter, str | None], float | None]
# A latitude south of the line begins with '-', which is no option.
SOUTHERN = {"ignore_unknown_options": True}


def quantity(dimension: str) -> Reader:
    """A number with its unit, made SI; a bare number is refused, as in the orders."""

    def read(ctx: click.Context, param: click.Parameter, text: str | None) -> float | None:
        if text is None:
            return None
        try:
            return parse_quantity(text, dimension)
        except UnitError as error:
            raise click.BadParameter(f'"{text}" {error}', ctx, param) from None

    return read


def position(
    ctx: click.Context, param: click.Parameter, text: str | None
) -> tuple[float, float] | None:
    """LAT,LON in degrees."""
    if text is None:
        return None
    match = re.fullmatch(r"\s*([-+]?\d+(?:\.\d*)?)\s*,\s*([-+]?\d+(?:\.\d*)?)\s*", text)
    if match is None:
        said = f'"{text}" is no position; write LAT,LON, for example 57.1000,-5.2000'
        raise click.BadParameter(said, ctx, param)
    lat, lon = float(match[1]), float(match[2])
    if abs(lat) > 90 or abs(lon) > 180:
        raise click.BadParameter("latitude goes to 90 degrees and longitude to 180", ctx, param)
    return lat, lon


length = quantity("length")
time = quantity("time")
