"""[handling] of the orders: the times of alert handling and who sees enough to judge an alert.

All have defaults; each is bound to what the published practice allows, so that no slip of the
finger makes an alarm that nobody repeats. Two numbers cannot be set: people are never given up,
and there is no way to switch a sound off for good.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import field

from .orders import Quantity, Table

Channel = Literal["command line", "button", "nmea", "mqtt", "push"]
MINUTE, HOUR = 60.0, 3600.0


class Handling(Table, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """See the module's first lines. Where each default comes from is in alerts/timings.py."""

    table: ClassVar[str] = "handling"
    many: ClassVar[bool] = False

    # IMO MSC.302(87) 7.3.5: at most 30 s.
    silence_s: Annotated[float, Quantity("time", 5.0, 30.0)] = field(default=30.0, name="silence")
    # IEC 62923-1 (from memory): at most 5 min.
    escalate_s: Annotated[float, Quantity("time", 10.0, 300.0)] = field(
        default=60.0, name="escalate"
    )
    # The cadence of the watch alarm, IMO MSC.128(75) 4.1.2: 15, 15 and 90 s (to 3 min).
    second_call_s: Annotated[float, Quantity("time", 5.0, 60.0)] = field(
        default=15.0, name="second_call"
    )
    stage_2_s: Annotated[float, Quantity("time", 10.0, 120.0)] = field(default=30.0, name="stage_2")
    stage_3_s: Annotated[float, Quantity("time", 60.0, 300.0)] = field(
        default=120.0, name="stage_3"
    )
    call_again_s: Annotated[float, Quantity("time", MINUTE, 10 * MINUTE)] = field(
        default=180.0, name="call_again"
    )
    still_s: Annotated[float, Quantity("time", 5 * MINUTE, 2 * HOUR)] = field(
        default=1800.0, name="still"
    )
    shelf_s: Annotated[float, Quantity("time", MINUTE, 12 * HOUR)] = field(
        default=1800.0, name="shelf"
    )
    shelf_max_s: Annotated[float, Quantity("time", MINUTE, 12 * HOUR)] = field(
        default=12 * HOUR, name="shelf_at_most"
    )
    shelf_max_alarm_s: Annotated[float, Quantity("time", MINUTE, HOUR)] = field(
        default=HOUR, name="shelf_alarm_at_most"
    )
    group_s: Annotated[float, Quantity("time", 10.0, 5 * MINUTE)] = field(
        default=30.0, name="group_news"
    )
    digest_s: Annotated[float, Quantity("time", 10 * MINUTE, 24 * HOUR)] = field(
        default=HOUR, name="caution_news"
    )
    heartbeat_s: Annotated[float, Quantity("time", 10.0, 5 * MINUTE)] = field(
        default=60.0, name="heartbeat"
    )
    chatter_clear_s: Annotated[float, Quantity("time", MINUTE, HOUR)] = field(
        default=600.0, name="chatter_clear"
    )
    seeing: tuple[Channel, ...] = ("command line",)

    def problems(self) -> list[tuple[str, str]]:
        found = []
        if not self.second_call_s < self.stage_2_s < self.stage_3_s:
            found.append(("stage_2", "expected second_call before stage_2 before stage_3"))
        if self.shelf_s > self.shelf_max_s:
            found.append(("shelf", "expected no more than shelf_at_most"))
        return found

    def explain(self) -> list[str]:
        return [
            f"an alarm goes to people at once, again after {self.second_call_s:g} s, to the second "
            f"stage after {self.stage_2_s:g} s, to everyone after {self.stage_3_s:g} s, then each "
            f"{self.call_again_s:g} s until somebody answers or it is over",
            f"a warning that nobody answers is an alarm after {self.escalate_s:g} s; "
            f"silence lasts {self.silence_s:g} s",
            "what takes a picture to judge (drag, proximity, depth) is acknowledged only through: "
            + (", ".join(self.seeing) or "nothing")
            + "; elsewhere an answer silences it",
        ]
