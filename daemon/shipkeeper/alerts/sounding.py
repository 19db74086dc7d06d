"""Sound and light: what the buzzer and the lamp should do now, from the alerts that stand.

The most urgent unanswered alert decides. Sound and light use one code; flashing is for the
unacknowledged alone. An alert that another speaks for makes no sound of its own.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..words.alert import AlertRecord, Priority, State
from ..words.effects import Wanted

SOUNDS = {
    Priority.EMERGENCY: "emergency",
    Priority.ALARM: "alarm",
    Priority.WARNING: "warning",
}
STAGE_2 = 2  # from this level on all are called, with the stronger pattern


def wanted(records: Iterable[AlertRecord], fresh: int, crew: str, blind: bool) -> Wanted:
    """The one pattern for now. `fresh` counts new announcements (see Wanted)."""
    loudest: AlertRecord | None = None
    lamp = "slow" if blind else "off"
    outlets: set[str] | None = set()
    for record in records:
        if record.shelved_until_s is not None:
            continue
        lamp = _lamp(record, lamp)
        if not _sounds(record, crew):
            continue
        if record.call is None:
            outlets = None
        elif outlets is not None:
            outlets.update(record.call)
        if loudest is None or _urgency(record) > _urgency(loudest):
            loudest = record
    if loudest is None:
        return Wanted(pattern="silence", lamp=lamp, fresh=fresh)
    pattern = SOUNDS[loudest.priority]
    if loudest.kind in ("feed", "self") and loudest.priority < Priority.ALARM:
        pattern = "fault"
    if pattern == "alarm" and loudest.level >= STAGE_2:
        pattern = "alarm stage 2"
    return Wanted(
        pattern="drill" if loudest.drill else pattern,
        lamp=lamp,
        fresh=fresh,
        outlets=None if outlets is None else tuple(sorted(outlets)),
        text=f"{loudest.title}: {loudest.text}",
    )


def _sounds(record: AlertRecord, crew: str) -> bool:
    if record.group is not None or record.priority is Priority.CAUTION:
        return False
    if record.state is State.UNACKNOWLEDGED:
        return True
    # Taken by somebody ashore is no proof that anyone is on deck.
    return record.state is State.TRANSFERRED and crew == "aboard"


def _urgency(record: AlertRecord) -> tuple[int, int, float]:
    return record.priority, record.level, record.raised_s or 0.0


def _lamp(record: AlertRecord, lamp: str) -> str:
    order = ("off", "slow", "steady", "flash")
    own = "off"
    if record.state in (State.UNACKNOWLEDGED, State.SILENCED, State.RECTIFIED, State.LATCHED):
        own = "flash" if record.priority > Priority.CAUTION else "steady"
    elif record.state in (State.ACKNOWLEDGED, State.TRANSFERRED, State.ACTIVE):
        own = "steady"
    return max(lamp, own, key=order.index)
