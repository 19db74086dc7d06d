"""Many messages as one: what a person reads when the link is back. Late ones say how late."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from ..words.effects import Message
from ..words.timing import duration_text

LATE_AFTER_S = 60.0
RAISES = 6  # times of one alert in a line
ALSO = " Also: "  # begins the names on a list (alerts/calling.py)
NAMES = 160  # letters of names in a line
LISTED = 30  # lines in a list: services cut long messages


def lateness(message: Message, late_s: float) -> str:
    """The message's text, begun with when it happened when that is a while ago."""
    if late_s <= LATE_AFTER_S:
        return message.text
    return f"LATE: happened at {message.at[11:16]} UTC, {duration_text(late_s)} ago. {message.text}"


def fold(messages: Sequence[Message], late_s: float = 0.0) -> Message:
    """One message for many: a line for each alert, with when it was raised and its last news.
    Repeats say nothing new, and where there are too many alerts for one message the least urgent
    are only counted. late_s: how long ago the first of them happened.
    """
    by_alert: dict[tuple[str, int, int], list[Message]] = {}
    for message in messages:
        # The number besides: of a list, which has one name, another may be the first today.
        key = (message.about, message.number, message.occurrence)
        by_alert.setdefault(key, []).append(message)
    told = sorted(by_alert.values(), key=lambda news: (-_gravest(news), -news[0].at_s))[:LISTED]
    lines = [_listed(news) for news in sorted(told, key=lambda news: news[0].at_s)]
    if len(told) < len(by_alert):
        lines.insert(0, f"{len(by_alert) - len(told)} less urgent ones are in the journal")
    times = [message.at[11:16] for message in sorted(messages, key=lambda m: m.at_s)]
    late = f"LATE, the first {duration_text(late_s)} ago. " if late_s > LATE_AFTER_S else ""
    count = f"{len(messages)} messages of {times[0]} to {times[-1]} UTC"
    return msgspec.structs.replace(
        messages[-1],
        priority=max(m.priority for m in messages),
        title=f"{len(messages)} MESSAGES"[:16],
        line=count,
        text=f"{late}{count}:\n" + "\n".join(lines),
        scene=None,
    )


def _gravest(news: Sequence[Message]) -> int:
    return max(int(message.priority) for message in news)


def _listed(news: Sequence[Message]) -> str:
    """'01:45 raised: WATCH IS BLIND: no fix from "gnss" (cleared 01:49) ref 5.12'; each raise of
    it is named ('01:45, 01:52 raised'), and the newest has the word."""
    last = news[-1]
    raises = [message for message in news if message.event == "raised"]
    told = raises[-1] if raises else news[0]
    stamps = list(dict.fromkeys(message.at[11:16] for message in raises or [told]))[-RAISES:]
    since = f" ({last.event} {last.at[11:16]})" if last.event != told.event else ""
    ref = f" ref {told.number}.{told.occurrence}"
    words = f"{told.line}{_together(raises or [told])}"
    return f"{', '.join(stamps)} {told.event}: {told.title}: {words}{since}{ref}"


def _together(news: Sequence[Message]) -> str:
    """Who else was on a list ('2 together'): named in the text, of which only the line is told
    here; the longest list has the most names."""
    lists = [message.text.partition(ALSO)[2] for message in news]
    names = max(lists, key=len).rstrip(".")
    if len(names) > NAMES:
        names = names[:NAMES].rpartition(",")[0] + " and more"
    return f" Also: {names}." if names else ""
