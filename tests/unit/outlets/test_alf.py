"""outlets/alf.py and words/sentence.py: alerts as sentences.

Layouts: open codec libraries of IEC 61162-1 sentences (ALF, ALC, ARC, HBT, ALR), as the
module names them; the 82 characters likewise.
"""

from __future__ import annotations

from typing import Any

import pynmea2
from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.outlets import alf
from shipkeeper.words.alert import AlertRecord, Priority, State
from shipkeeper.words.sentence import body_of, escaped, lat_lon, sentence, time_field, unescaped

from ...peers.messages import record

AT = "021345.00"


def told(**changes: Any) -> alf.Told:
    made = alf.told(record(**changes), AT)
    assert made is not None
    return made


def fields(line: str) -> list[str]:
    body = body_of(line)
    assert body is not None
    return body.split(",")


def test_a_checksum_is_the_one_of_the_library() -> None:
    """pynmea2's own checksum over the same text."""
    line = sentence("IIHBT,30.0,A,3")
    assert pynmea2.NMEASentence.checksum("IIHBT,30.0,A,3") == int(line[-2:], 16)


def test_alf_has_title_and_text_in_two_sentences() -> None:
    """Thirteen fields; times and states only in the first, the same instance in both."""
    lines = alf.alf(told(kind="drag", number=7, revision=100, title="DRAGGING"), "II", "", 4)
    first, second = (fields(line) for line in lines)
    assert first == ["IIALF", "2", "1", "4", AT, "B", "W", "V", "", "10010", "7", "1", "0",
                     "DRAGGING"]  # fmt: skip
    assert second[:13] == ["IIALF", "2", "2", "4", "", "", "", "", "", "10010", "7", "1", "0"]
    assert len(first) == len(second) == 14


def test_states_and_priorities_have_their_letters() -> None:
    """V S A O U of the layout; nothing is told of what cannot be judged or is spoken for."""
    letters = {
        State.UNACKNOWLEDGED: "V",
        State.SILENCED: "S",
        State.ACKNOWLEDGED: "A",
        State.TRANSFERRED: "O",
        State.RECTIFIED: "U",
        State.SHELVED: "N",
    }
    assert {state: told(state=state).state for state in letters} == letters
    assert [told(priority=p).priority for p in Priority] == ["C", "W", "A", "E"]
    assert alf.told(record(state=State.UNKNOWN), AT) is None
    assert alf.told(record(group="zone"), AT) is None


def test_alc_lists_all_and_splits_no_entry() -> None:
    """Forty alerts: every entry whole, the counts right, each line short enough."""
    alerts = [told(kind="zone", number=n, revision=3) for n in range(1, 41)]
    lines = alf.alc(alerts, "II", "", 9)
    seen = []
    for number, line in enumerate(lines, start=1):
        total, no, sequence, count, *entries = fields(line)[1:]
        assert (int(total), int(no), int(sequence)) == (len(lines), number, 9)
        assert len(entries) == 4 * int(count)
        seen += [entries[i : i + 4] for i in range(0, len(entries), 4)]
        assert len(line) + 2 <= 82
    assert seen == [["", "10020", str(n), "3"] for n in range(1, 41)]
    assert [fields(line) for line in alf.alc([], "II", "", 0)] == [["IIALC", "01", "01", "00", "0"]]


def test_alr_says_whether_it_is_so_and_whether_it_was_seen() -> None:
    line = alf.alr(told(kind="drag", number=1007, title="DRAGGING", text="52 m"), "II")
    assert fields(line) == ["IIALR", AT, "007", "A", "V", "DRAGGING: 52 m"]
    acknowledged = alf.alr(told(state=State.ACKNOWLEDGED), "II")
    assert fields(acknowledged)[3:5] == ["A", "A"]
    rectified = alf.alr(told(state=State.RECTIFIED), "II")
    assert fields(rectified)[3:5] == ["V", "V"]


@given(st.text(max_size=400), st.text(max_size=40), st.integers(1, 10**9), st.integers(1, 10**6))
def test_no_text_breaks_a_sentence(text: str, title: str, number: int, revision: int) -> None:
    """Whatever a ship calls herself: at most 82 characters, all printable ASCII, its fields
    in their places, the checksum right."""
    made: AlertRecord = record(number, revision=revision, text=text, title=title, level=9)
    alert = alf.told(made, AT)
    assert alert is not None
    for line in (
        *alf.alf(alert, "II", "ABC", 9),
        alf.alr(alert, "II"),
        *alf.alc([alert], "II", "", 1),
    ):
        assert len(line) + 2 <= 82
        assert all(0x20 <= ord(c) < 0x7F for c in line)
        assert line.count("$") == line.count("*") == 1
    assert [len(fields(line)) for line in alf.alf(alert, "II", "", 9)] == [14, 14]


@given(st.text(st.characters(min_codepoint=33, max_codepoint=126), max_size=30))
def test_escapes_are_read_back(text: str) -> None:
    """Also by the feed's own reader, which was written against recorded sentences."""
    from shipkeeper.feed.fields import unescape

    written = escaped(text, 200)
    assert unescaped(written) == text
    assert unescape(written) == text


def test_places_and_times_as_fields() -> None:
    assert lat_lon(57.10001, -5.20002) == "5706.00060,N,00512.00120,W"
    assert lat_lon(-0.5, 179.9999999999) == "0030.00000,S,18000.00000,E"
    assert time_field("2026-06-12T02:13:45.250Z") == "021345.25"
    assert time_field("-") == ""
