"""What anchor, moor and berth share: the mark's options and the request made of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from .quantities import length

F = TypeVar("F", bound=Callable[..., Any])


def lying(function: F) -> F:
    """--rode, --depth, --rise."""
    for flag, name, text in (
        ("--rise", "rise_m", "How much the water will rise yet, for example '2.1 m'."),
        ("--depth", "depth_m", "Depth of water now, for example '6 m' (else the sounder's)."),
        ("--rode", "rode_m", "Rode laid out from the bow, for example '35 m'."),
    ):
        function = click.option(flag, name, callback=length, default=None, help=text)(function)
    return function


def request(
    how: str, place: tuple[float, float] | None, lengths: dict[str, float | None]
) -> dict[str, Any]:
    """Arguments of the command as the engine takes them."""
    args: dict[str, Any] = {"how": how, **lengths}
    if place is not None:
        args |= {"lat": place[0], "lon": place[1]}
    return args
