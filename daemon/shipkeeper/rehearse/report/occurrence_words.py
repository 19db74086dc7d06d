"""What became of one alert, in words."""

from __future__ import annotations

from ...words.timing import clock_text, duration_text
from ..occurrences import Occurrence
from .night import Night


def ended(night: Night, one: Occurrence) -> str:
    """'acknowledged by ann after 40 s, over after 6 min'."""
    said = []
    if one.worse:
        said.append("got worse")
    if one.announced:
        if one.acknowledged_s is not None:
            who = night.answered_by(one)
            by = f" by {who}" if who else ""
            said.append(
                f"acknowledged{by} after {duration_text(one.acknowledged_s - one.raised_s)}"
            )
        else:
            said.append("not acknowledged")
    if one.led:
        said.append("told with another")
    if one.cleared_s is None:
        said.append("stood to the end")
    elif one.withdrawn:
        said.append(f"withdrawn at {clock_text(one.cleared_s)}, the watch was changed")
    else:
        said.append(f"over after {duration_text(one.cleared_s - one.raised_s)}")
    return ", ".join(said)
