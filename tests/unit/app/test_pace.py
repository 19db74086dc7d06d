"""app/pace.py and app/fold.py: as fast as a service bears; late lists say how late."""

from __future__ import annotations

from shipkeeper.app.fold import fold, lateness
from shipkeeper.app.pace import Pace
from shipkeeper.words.alert import Priority

from .outlets import NIGHT_S, message


def test_ten_at_once_then_one_in_six_seconds() -> None:
    """Over an hour of always wanting to send: 10 + 3600 / 6."""
    now = [0.0]
    pace = Pace(lambda: now[0])
    sent = 0
    for second in range(3600):
        now[0] = float(second)
        while pace.may_send():
            pace.sent()
            sent += 1
    assert 600 <= sent <= 610


def test_a_late_list_says_how_late_and_what_became_of_each() -> None:
    """Two hours: the raise and the clearing of one alarm are one line."""
    over = message(1, at_s=NIGHT_S + 60.0, event="cleared", priority=Priority.ALARM)
    told = fold([message(1), over, message(2)], 7200.0)
    assert told.text.startswith("LATE, the first 2 h ago. 3 messages of 22:00 to 22:00 UTC:")
    assert told.text.count("\n") == 2
    assert "(cleared 22:00) ref 1.1" in told.text
    assert told.priority is Priority.ALARM


def test_a_late_one_begins_with_when_it_happened() -> None:
    """A minute is not late."""
    assert lateness(message(1), 59.0) == "text 1"
    late = "LATE: happened at 22:00 UTC, 2 h ago. text 1"
    assert lateness(message(1), 7200.0) == late
