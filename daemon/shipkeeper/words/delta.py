"""The Signal K format, as far as both of its edges need it: addresses, deltas, stamps."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

import msgspec

STREAM = "/signalk/v1/stream"
MOST_BYTES = 4 << 20  # one message; a server tells all that it knows of a harbour in one
SELF = "vessels.self"


class Value(msgspec.Struct, frozen=True, gc=False):
    """One value of a delta."""

    context: str
    path: str
    value: Any
    source: str
    stamp_s: float | None  # UNIX seconds


def values(body: dict[str, Any], own: str) -> Iterator[Value]:
    """Every value of a delta; what has not the form of one is passed over. own: the server's
    word for the vessel itself, told in its greeting."""
    context = body.get("context")
    context = SELF if context is None or context in (own, "self", SELF) else str(context)
    updates = body.get("updates")
    for update in updates if isinstance(updates, list) else []:
        if not isinstance(update, dict) or not isinstance(update.get("values"), list):
            continue
        source = source_of(update)
        stamp_s = seconds(update.get("timestamp"))
        for item in update["values"]:
            if isinstance(item, dict) and isinstance(item.get("path"), str):
                yield Value(context, item["path"], item.get("value"), source, stamp_s)


def source_of(update: dict[str, Any]) -> str:
    """Where the update came from, in one word."""
    if isinstance(update.get("$source"), str):
        return str(update["$source"])
    source = update.get("source")
    if not isinstance(source, dict):
        return ""
    parts = (source.get("label"), source.get("type"), source.get("sentence"))
    return ".".join(str(part) for part in parts if part)


def seconds(text: Any) -> float | None:
    """UNIX seconds of a timestamp, which is always UTC."""
    if not isinstance(text, str) or not text.endswith("Z"):
        return None
    try:
        return datetime.fromisoformat(text).timestamp()
    except ValueError:
        return None


def url(address: str, tls: bool, subscribe: str) -> str:
    """Where the stream is."""
    return f"{'wss' if tls else 'ws'}://{address}{STREAM}?subscribe={subscribe}"
