"""The orders that stand: those of the file, or the last good ones when the file went bad.

A file with a mistake never stops a watch that was kept: a reload keeps the running orders, and
so does a restart in the night by systemd or a power cut, from the copy beside the state. Only
a person who starts the daemon by hand is refused, since they are there to mend the file.
"""

from __future__ import annotations

import os
from pathlib import Path

from ..orders import BadOrders, load, read
from ..words.orders import Orders
from .kinds import KINDS
from .log import log

COPY = "orders.last-good.toml"


def standing(path: Path, state: Path, *, unattended: bool) -> tuple[Orders, str]:
    """(orders, what is wrong with the file or ''). Raises BadOrders when there are none."""
    try:
        return load(path, KINDS), ""
    except BadOrders as bad:
        copy = state / COPY
        if not unattended or not copy.is_file():
            raise
        log(str(bad))
        try:
            orders, _, _ = read(copy.read_text(encoding="utf-8"), str(path), KINDS)
        except OSError:
            orders = None
        if orders is None:
            raise
        why = f"the orders are refused ({first_problem(bad)}); those of before stand"
        log(f"orders: {why}")
        return orders, why


def keep_copy(orders: Orders, state: Path) -> None:
    """The orders that the watch runs by, for the next start. Whole or not at all."""
    copy = state / COPY
    part = copy.with_name(copy.name + ".part")
    try:
        if copy.exists() and copy.read_text(encoding="utf-8") == orders.text:
            return
        with part.open("w", encoding="utf-8") as file:
            file.write(orders.text)
            file.flush()
            os.fsync(file.fileno())
        part.replace(copy)
    except OSError as error:
        log(f"orders: no copy could be kept: {error.strerror}")


def first_problem(bad: BadOrders) -> str:
    """The first of them, on one line."""
    return bad.problems[0].told(Path(bad.path).name) if bad.problems else "bad"
