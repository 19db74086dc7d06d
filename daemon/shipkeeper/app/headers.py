"""Headers of recordings: what a watch began from, so that a rehearsal begins from the same."""

from __future__ import annotations

import msgspec

from ..engine import Engine
from ..rehearse.recording import Header
from ..words.orders import Orders
from ..words.remembered import Remembered


class Headers:
    """For the files of one run. Called on the main thread only."""

    def __init__(self, orders: Orders, engine: Engine) -> None:
        self._orders, self._engine = orders, engine
        self._inputs = tuple(table.name for table in orders.inputs)

    def first(self, remembered: Remembered, now_s: float, gap_s: float | None) -> Header:
        """The run's first file begins from what the store remembered."""
        return Header(
            started_s=now_s,
            orders=self._orders.text,
            inputs=self._inputs,
            alerts=tuple(msgspec.structs.replace(record) for record in remembered.alerts),
            state=remembered.state,
            last_alive_s=remembered.last_alive_s,
            next_number=remembered.next_number,
            gap_s=gap_s,
        )

    def later(self, at_s: float) -> Header:
        """A file that begins in mid-watch begins from what stands then."""
        records = tuple(msgspec.structs.replace(record) for record in self._engine.records())
        return Header(
            started_s=at_s,
            begins_run=False,
            orders=self._orders.text,
            inputs=self._inputs,
            alerts=records,
            state=self._engine.memory(),
            next_number=max((record.number for record in records), default=0) + 1,
        )
