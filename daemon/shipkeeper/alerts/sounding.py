"""Sound and light: what the buzzer and the lamp should do now, from the alerts that stand.

The most urgent unanswered alert decides the sound. Sound and light use one code; flashing is
for the unacknowledged alone (IMO MSC.191(79) 5.5.4). An alert that another speaks for makes no
sound of its own. The ladder never makes the sound weaker because something else is quiet.
"""

from __future__ import annotations

from ..words.alert import Priority
from ..words.effects import Wanted
from .desk import OWN_KIND, Desk, Instance
from .states import UNSEEN, Phase

SOUNDS = {
    Priority.EMERGENCY: "emergency",
    Priority.ALARM: "alarm",
    Priority.WARNING: "warning",
}
STAGE_2 = 2  # from this level on the stronger pattern sounds
LAMPS = ("off", "slow", "steady", "flash")  # from least to most
FLASHING = UNSEEN | {Phase.RECTIFIED, Phase.LATCHED}
STEADY = frozenset({Phase.ACTIVE, Phase.ACK, Phase.TRANSFERRED, Phase.LATCHED_ACK})


def wanted(desk: Desk) -> Wanted:
    """The one pattern and lamp for now."""
    lamp = "off"
    sounding: list[Instance] = []
    for instance in desk.everything():
        if instance.is_quiet:
            continue
        lamp = max(lamp, lamp_of(instance, desk.watch), key=LAMPS.index)
        if sounds(instance, desk.crew):
            sounding.append(instance)
    if not sounding:
        return Wanted(
            pattern="silence", lamp=lamp, fresh=desk.fresh, click=desk.click, clicks=desk.clicks
        )
    loudest = max(sounding, key=_urgency)
    record = loudest.record
    return Wanted(
        pattern=pattern_of(loudest),
        lamp=lamp,
        fresh=desk.fresh,
        outlets=_outlets(sounding),
        text=f"{record.title}: {record.text}",
        click=desk.click,
        clicks=desk.clicks,
    )


def sounds(instance: Instance, crew: str) -> bool:
    """Whether this alert asks for sound."""
    record = instance.record
    if instance.is_quiet or record.group is not None or record.priority is Priority.CAUTION:
        return False
    if instance.phase is Phase.UNACK:
        return True
    # Taken from ashore is no proof that anyone is on deck.
    return (
        instance.phase is Phase.TRANSFERRED
        and record.acknowledged_where == "ashore"
        and crew == "aboard"
        and record.silenced_until_s is None
    )


def pattern_of(instance: Instance) -> str:
    """The buzzer's pattern for one alert."""
    record = instance.record
    if record.drill:
        return "drill"
    if record.kind in ("feed", OWN_KIND) and record.priority is Priority.WARNING:
        return "fault"
    if record.priority is Priority.ALARM and record.level >= STAGE_2:
        return "alarm stage 2"
    return SOUNDS[record.priority]


def lamp_of(instance: Instance, watch: str) -> str:
    """The lamp for one alert: flashing waits for an answer, steady is known."""
    loud = instance.record.priority > Priority.CAUTION
    if instance.phase in FLASHING and loud:
        return "flash"
    if instance.phase in STEADY:
        return "steady"
    return "slow" if instance.phase is Phase.UNKNOWN and watch != "off" else "off"


def _urgency(instance: Instance) -> tuple[bool, int, int, float]:
    record = instance.record
    return not record.drill, record.priority, record.level, record.raised_s or 0.0


def _outlets(sounding: list[Instance]) -> tuple[str, ...] | None:
    """Buzzers that any of them calls; None: all."""
    named: dict[str, None] = {}
    for instance in sounding:
        if instance.record.call is None:
            return None
        named |= dict.fromkeys(instance.record.call)
    return tuple(sorted(named))
