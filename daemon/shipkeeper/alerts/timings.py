"""All times and limits of alert handling in one place, each with where it comes from."""

from __future__ import annotations

import msgspec

from ..words.handling import Handling


class Timings(msgspec.Struct, frozen=True, kw_only=True):
    """Seconds, unless the name says otherwise. 'ours': our own choice."""

    silence_s: float = 30.0  # IMO MSC.302(87) 7.3.5
    escalate_s: float = 60.0  # warning to alarm; ours, bound to ESCALATE_MAX_S
    # Calls to people after an alarm: second call, second stage, everybody (the cadence of the
    # bridge watch alarm, IMO MSC.128(75) 4.1.2: 15, 15 and 90 s), then again and again (ours).
    second_call_s: float = 15.0
    stage_2_s: float = 30.0
    stage_3_s: float = 120.0
    call_again_s: float = 180.0
    still_s: float = 1800.0  # re-alarm of an acknowledged or taken alarm that is still so; ours
    shelf_s: float = 1800.0  # default shelf; ours
    shelf_max_s: float = 12 * 3600.0  # ours
    shelf_max_alarm_s: float = 3600.0  # alarm and above; ours
    group_s: float = 30.0  # news of one group no oftener than this; ours
    digest_s: float = 3600.0  # cautions to people, at most one message in this time; ours
    heartbeat_s: float = 60.0  # of one who has taken an alert; two missed give it back
    service_reminder_s: float = 86_400.0  # out of service: one reminder a day
    start_grace_s: float = 10.0  # no 'unknown' this soon after a watch is set; ours
    gap_alarm_s: float = 60.0  # not watched for longer than this, with a watch set: alarm
    chatter_raises: int = 3  # ISA-18.2 practice: 3 in a minute (second-hand)
    chatter_s: float = 60.0
    chatter_raises_slow: int = 5  # or 5 in ten minutes
    chatter_slow_s: float = 600.0
    chatter_clear_s: float = 600.0  # off-delay while chattering; ours


def timings_of(handling: Handling) -> Timings:
    """Those of the orders; what cannot be set there stays as it is here."""
    settable = {name: getattr(handling, name) for name in TIMES}
    return Timings(**settable)


TIMES = tuple(name for name in Handling.__struct_fields__ if name.endswith("_s"))
ESCALATE_MAX_S = 300.0  # IEC 62923-1, from memory
