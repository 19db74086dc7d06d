"""Labels of time: engine seconds to the UTC text that people and journals read."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def utc_text(utc_s: float) -> str:
    """UNIX seconds -> '2026-06-12T02:13:45.000Z' (RFC 3339, to the millisecond)."""
    moment = _EPOCH + timedelta(milliseconds=round(utc_s * 1000))
    return moment.strftime("%Y-%m-%dT%H:%M:%S.") + f"{moment.microsecond // 1000:03d}Z"


def clock_text(utc_s: float) -> str:
    """UNIX seconds -> '02:13' UTC."""
    return (_EPOCH + timedelta(seconds=utc_s)).strftime("%H:%M")


def duration_text(seconds: float) -> str:
    """45 -> '45 s'; 130 -> '2 min'; 5400 -> '1 h 30 min'."""
    whole = max(0, round(seconds))
    if whole < 100:
        return f"{whole} s"
    minutes = round(whole / 60)
    if minutes < 100:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    return f"{round(hours / 24)} days"
