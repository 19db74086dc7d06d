"""What outlives a power cut, as the engine is handed it at start."""

from __future__ import annotations

import msgspec

from .alert import AlertRecord


class Remembered(msgspec.Struct, frozen=True, kw_only=True):
    """The store's answer at start: alerts not normal, named state, when last alive."""

    alerts: tuple[AlertRecord, ...] = ()
    state: dict[str, bytes] = {}
    last_alive_s: float | None = None  # engine time of the last sign of life
    next_number: int = 1  # for new alert instances
    problems: tuple[str, ...] = ()  # 'state file was damaged; set aside as ...'
