"""Syslog lines against RFC 5424 (2009), by a parser written from its grammar alone.

The examples are those of section 6.5 and 6.2.3.1, the PRI arithmetic that of 6.2.1. Lengths
are of section 6. Facts marked 'from memory' were not read in the text again.
"""

from __future__ import annotations

import re
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.peers.messages import message

from shipkeeper.outlets.rfc5424 import FACILITIES, line, severity, stamp
from shipkeeper.words.alert import Priority

# ABNF of section 6, as a regular expression over bytes.
_PRINT = rb"[\x21-\x7e]"
_NAME = rb"[\x21\x23-\x3c\x3e-\x5c\x5e-\x7e]{1,32}"  # SD-NAME: no '=', SP, ']', '"'
_PARAM = rb" " + _NAME + rb'="(?:[^"\\\]]|\\.)*"'
_SYSLOG = re.compile(
    rb"<(0|[1-9][0-9]{0,2})>([1-9][0-9]{0,2})"
    rb" (-|[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]{8}(?:\.[0-9]{1,6})?(?:Z|[+-][0-9]{2}:[0-9]{2}))"
    rb" (" + _PRINT + rb"{1,255}) (" + _PRINT + rb"{1,48}) (" + _PRINT + rb"{1,128})"
    rb" (" + _PRINT + rb"{1,32})"
    rb" (-|(?:\[" + _NAME + rb"(?:" + _PARAM + rb")*\])+)"
    rb"(?: (.*))?",
    re.DOTALL,
)
_ONE_PARAM = re.compile(rb" (" + _NAME + rb')="((?:[^"\\\]]|\\.)*)"', re.DOTALL)


class Parsed(NamedTuple):
    facility: int
    severity: int
    stamp: str
    host: str
    app: str
    message_id: str
    data: dict[str, str]
    text: str


def parse(raw: bytes) -> Parsed:
    """Raises ValueError for what the grammar does not allow."""
    match = _SYSLOG.fullmatch(raw)
    if match is None or int(match[1]) > 191:
        raise ValueError(raw)
    data = {
        key.decode(): re.sub(rb"\\(.)", rb"\1", value).decode()
        for key, value in _ONE_PARAM.findall(match[8])
    }
    pri = int(match[1])
    text = (match[9] or b"").decode("utf-8")
    return Parsed(
        pri // 8, pri % 8, match[3].decode(), match[4].decode(), match[5].decode(),
        match[7].decode(), data, text,
    )  # fmt: skip


def ours(facility: int = 3, most_bytes: int = 8192, **changes: object) -> bytes:
    return line(
        message(**changes),  # type: ignore[arg-type]  # any field of a message
        facility=facility,
        host="curlew",
        pid=4711,
        most_bytes=most_bytes,
    )


@pytest.mark.parametrize(
    ("facility", "sev", "pri"),
    # RFC 5424 6.5 examples 1 to 4 (34, 165), 6.2.1 (0 and 191 are the ends)
    [(4, 2, 34), (20, 5, 165), (0, 0, 0), (1, 1, 9), (3, 2, 26), (16, 1, 129), (23, 7, 191)],
)
def test_pri_is_eight_times_facility_plus_severity(facility: int, sev: int, pri: int) -> None:
    """The parser of this test agrees with the RFC's figures, without leading zeros."""
    parsed = parse(b"<%d>1 - - - - - -" % pri)
    assert (parsed.facility, parsed.severity) == (facility, sev)
    with pytest.raises(ValueError, match="<0"):
        parse(b"<0%d>1 - - - - - -" % pri)


def test_the_parser_takes_the_examples_of_the_rfc() -> None:
    """Section 6.5, examples 1 and 3: else it could not judge our lines."""
    one = parse(
        b"<34>1 2003-10-11T22:14:15.003Z mymachine.example.com su - ID47 - "
        b"\xef\xbb\xbf'su root' failed for lonvick on /dev/pts/8"
    )
    assert (one.facility, one.severity, one.app, one.data) == (4, 2, "su", {})
    three = parse(
        b"<165>1 2003-10-11T22:14:15.003Z mymachine.example.com evntslog - ID47 "
        b'[exampleSDID@32473 iut="3" eventSource="Application" eventID="1011"] '
        b"\xef\xbb\xbfAn application event log entry..."
    )
    assert three.data == {"iut": "3", "eventSource": "Application", "eventID": "1011"}


@pytest.mark.parametrize(
    ("name", "facility"),
    # RFC 5424 6.2.1, table 1
    [("user", 1), ("daemon", 3), ("local0", 16), ("local4", 20), ("local7", 23)],
)
def test_facilities_have_the_numbers_of_the_rfc(name: str, facility: int) -> None:
    """Table 1."""
    assert FACILITIES[name] == facility
    assert parse(ours(FACILITIES[name])).facility == facility


@pytest.mark.parametrize(
    ("priority", "state", "pri"),
    # alerts.md 6.6 over facility 3 (daemon): alert 25, critical 26, warning 28, notice 29 ...
    [
        (Priority.EMERGENCY, "active-unacknowledged", 25),
        (Priority.ALARM, "active-unacknowledged", 26),
        (Priority.WARNING, "active-unacknowledged", 28),
        (Priority.CAUTION, "active", 29),
        (Priority.ALARM, "active-silenced", 29),
        (Priority.ALARM, "active-acknowledged", 29),
        (Priority.ALARM, "active-transferred", 29),
        (Priority.ALARM, "rectified-unacknowledged", 29),
        (Priority.ALARM, "shelved", 29),
        (Priority.ALARM, "unknown", 27),
        (Priority.ALARM, "normal", 30),
    ],
)
def test_pri_of_our_states(priority: Priority, state: str, pri: int) -> None:
    """By priority while unanswered, notice when handled, info when over."""
    assert ours(priority=priority, state=state).startswith(b"<%d>1 " % pri)


def test_no_state_makes_an_emergency_of_the_whole_machine() -> None:
    """Severity 0 is shown on every terminal by common receivers (from memory)."""
    for priority in Priority:
        assert severity(message(priority=priority)) > 0


def test_a_line_says_all_that_is_known() -> None:
    """Parsed back by the grammar: header, one element of structured data, text after a BOM."""
    parsed = parse(ours())
    assert parsed.stamp == "2026-06-12T02:13:45.000Z"
    assert (parsed.host, parsed.app, parsed.message_id) == ("curlew", "shipkeeper", "raised")
    assert parsed.data["id"] == "drag"
    assert parsed.data["prio"] == "alarm"
    assert (parsed.data["value"], parsed.data["limit"], parsed.data["unit"]) == ("52.1", "45", "m")
    assert "lat" not in parsed.data  # what is absent is left out
    assert parsed.text.startswith("\ufeffDRAGGING: 52 m from the anchor")
    assert b"[alert@32473 " in ours()


@pytest.mark.parametrize(
    ("text", "valid"),
    [
        # RFC 5424 6.2.3.1, examples 1 to 4, valid
        ("1985-04-12T23:20:50.52Z", True),
        ("1985-04-12T19:20:50.52-04:00", True),
        ("2003-10-11T22:14:15.003Z", True),
        ("2003-08-24T05:14:15.000003-07:00", True),
        # example 5 (from memory): nine digits of a second are too many
        ("2003-08-24T05:14:15.000000003-07:00", False),
        ("", False),
        ("02:13 UTC", False),
    ],
)
def test_a_stamp_is_one_of_the_rfc_or_none(text: str, valid: bool) -> None:
    """A clock that is not trusted gives no stamp but the nil value."""
    assert stamp(text) == (text if valid else "-")


def test_what_6_3_3_escapes_is_escaped() -> None:
    """Quote, backslash and closing bracket, and nothing else (6.3.3, from memory)."""
    raw = ours(subject='A"B\\C]D[E=F')
    assert b'subject="A\\"B\\\\C\\]D[E=F"' in raw
    assert parse(raw).data["subject"] == 'A"B\\C]D[E=F'


@given(st.text(max_size=60), st.text(max_size=60), st.text(max_size=200))
def test_no_name_from_the_air_breaks_the_line(subject: str, rule: str, text: str) -> None:
    """Whatever a ship calls herself: the line parses, the name is there, nothing of it
    reaches the rest of the line or a terminal."""
    raw = ours(subject=subject, rule=rule, text=text)
    parsed = parse(raw)
    for key, said in (("subject", subject), ("rule", rule)):
        clean = "".join(c if c.isprintable() else " " for c in said)
        assert parsed.data.get(key, "") == clean
    assert all(c >= 0x20 for c in raw)
    assert all(c.isprintable() or c == "\ufeff" for c in parsed.text)


@given(st.text(max_size=3000), st.integers(480, 4096))
def test_a_long_text_is_cut_at_a_character(text: str, most: int) -> None:
    """Datagrams are bounded (RFC 5426 3.2: 480 must be taken, 2048 should be); the header and
    the structured data are never cut."""
    raw = ours(text=text, most_bytes=most)
    assert len(raw) <= most
    parsed = parse(raw)
    assert parsed.data["state"] == "active-unacknowledged"
