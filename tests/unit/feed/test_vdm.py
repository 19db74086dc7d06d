"""AIS sentences: parts joined, repeats dropped, damage refused."""

from __future__ import annotations

import random

import pytest
from tests.unit.feed.air import message, vdm
from tests.unit.feed.said import heard, sentence

from shipkeeper.feed.ais_parts import MOST_GROUPS, WAIT_S
from shipkeeper.feed.decode import Decoder, Heard
from shipkeeper.words.observations import AisStatic

PAYLOAD = "15RTgt0PAso;90TKcjM8h6g208CQ"


def ship(number: int, sequence: int = 1) -> list[str]:
    """The two sentences of a ship's static data."""
    return message(
        type=5, sequence=sequence, mmsi=299000000 + number, shipname=f"SHIP {number}",
        callsign=f"ZZ{number}", ship_type=70, to_bow=10 + number, to_stern=20, to_port=5,
        to_starboard=6, destination=f"{number:020d}",
    )  # fmt: skip


def names(all_heard: list[Heard]) -> list[str | None]:
    return [f.name for h in all_heard for f in h.observations if isinstance(f, AisStatic)]


def test_two_parts_in_either_order() -> None:
    """The first to come is 'partial', the second brings the message."""
    one, two = ship(1)
    for order in ((one, two), (two, one)):
        decoder = Decoder()
        first, second = (decoder.decode(1.0, "ais", line) for line in order)
        assert (first.verdict, second.verdict) == ("partial", "good")
        assert names([second]) == ["SHIP 1"]


def test_parts_of_two_messages_between_each_other() -> None:
    """The sequence number keeps them apart."""
    a1, a2 = ship(1, sequence=1)
    b1, b2 = ship(2, sequence=2)
    decoder = Decoder()
    all_heard = [decoder.decode(1.0, "ais", line) for line in (a1, b2, b1, a2)]
    assert names(all_heard) == ["SHIP 2", "SHIP 1"]


def test_one_number_on_two_inputs_or_two_sources() -> None:
    """Receivers count for themselves: parts are joined within one of them only."""
    a1, a2 = ship(1)
    b1, b2 = ship(2)
    decoder = Decoder()
    order = [("fore", a1), ("aft", b1), ("fore", a2), ("aft", b2)]
    assert names([decoder.decode(1.0, wire, line) for wire, line in order]) == ["SHIP 1", "SHIP 2"]
    decoder = Decoder()
    tags = {"x": "\\" + sentence("s:x", "")[:] + "\\", "y": "\\" + sentence("s:y", "") + "\\"}
    order = [("x", a1), ("y", b1), ("x", a2), ("y", b2)]
    found = [decoder.decode(1.0, "net", tags[source] + line) for source, line in order]
    assert names(found) == ["SHIP 1", "SHIP 2"]


@pytest.mark.parametrize("order", ["a1 b1 a2 b2", "a1 b1 b2 a2", "a2 b2 a1 b1", "a1 b1 b2"])
def test_two_messages_under_one_number_are_never_mixed(order: str) -> None:
    """One ship's name with another ship's size is worse than no name."""
    parts = dict(zip(("a1", "a2", "b1", "b2"), ship(1) + ship(2), strict=True))
    decoder = Decoder()
    all_heard = [decoder.decode(1.0, "ais", parts[name]) for name in order.split()]
    assert names(all_heard) == []
    assert [h.why for h in all_heard if h.verdict == "bad"]


def test_after_a_mix_the_number_is_used_again() -> None:
    """A moment later a whole message passes."""
    a1, _ = ship(1)
    b1, b2 = ship(2)
    decoder = Decoder()
    for line in (a1, b1):
        decoder.decode(1.0, "ais", line)
    later = 1.0 + WAIT_S + 0.1
    assert names([decoder.decode(later, "ais", line) for line in (b1, b2)]) == ["SHIP 2"]


def test_a_lost_part_is_waited_for_only_a_while() -> None:
    """The half of an old message is not joined with the half of a new one."""
    a1, _ = ship(1)
    _, b2 = ship(2)
    decoder = Decoder()
    decoder.decode(1.0, "ais", a1)
    assert decoder.decode(1.0 + WAIT_S + 0.1, "ais", b2).verdict == "partial"


def test_a_part_heard_twice_is_one_part() -> None:
    """As by a wire that is split and joined again."""
    one, two = ship(1)
    decoder = Decoder()
    assert names([decoder.decode(1.0, "ais", line) for line in (one, one, two)]) == ["SHIP 1"]


def test_what_waits_is_bounded() -> None:
    """A talker that never sends second parts costs no more than MOST_GROUPS."""
    decoder = Decoder()
    rand = random.Random(1)
    for number in range(5000):
        line = vdm(PAYLOAD, 0, 2, 1, str(number % 10))
        decoder.decode(1.0 + number * 0.001, f"wire {rand.randrange(1000)}", line)
    assert len(decoder._vdm._parts) <= MOST_GROUPS


def test_one_report_by_two_receivers_counts_once() -> None:
    """The second hearing is a duplicate, without observations."""
    decoder = Decoder()
    line = vdm(PAYLOAD)
    assert decoder.decode(1.0, "fore", line).verdict == "good"
    second = decoder.decode(1.4, "aft", line)
    assert (second.verdict, second.observations) == ("duplicate", ())
    assert decoder.decode(60.0, "aft", line).verdict == "good"


def test_static_data_by_two_receivers_counts_once() -> None:
    """The joined payload counts, not its parts."""
    decoder = Decoder()
    for line in ship(1):
        assert decoder.decode(1.0, "fore", line).verdict in ("partial", "good")
    first, second = (decoder.decode(1.5, "aft", line) for line in ship(1, sequence=7))
    assert (first.verdict, second.verdict) == ("partial", "duplicate")


def test_our_own_report_is_no_duplicate_of_what_was_heard() -> None:
    """VDO tells that our transponder works; it is never dropped."""
    decoder = Decoder()
    own = sentence(f"AIVDO,1,1,,A,{PAYLOAD},0", "!")
    assert decoder.decode(1.0, "aft", vdm(PAYLOAD)).verdict == "good"
    assert decoder.decode(1.1, "fore", own).verdict == "good"
    assert decoder.decode(1.2, "fore", own).verdict == "good"


def test_static_data_said_again_is_heard_again() -> None:
    """Six minutes later, word for word: the ship is still there."""
    decoder = Decoder()
    for at_s in (0.0, 360.0, 720.0):
        assert names([decoder.decode(at_s, "ais", line) for line in ship(1)]) == ["SHIP 1"]


def test_memory_of_repeats_and_static_data_is_bounded() -> None:
    """A hundred thousand different payloads."""
    decoder = Decoder()
    rand = random.Random(2)
    for number in range(30_000):
        payload = "1" + "".join(rand.choices("0123456789:;<=", k=27))
        decoder.decode(1.0 + number * 1e-4, "ais", vdm(payload))
        payload = "H" + payload[1:]
        decoder.decode(1.0 + number * 1e-4, "ais", vdm(payload))
    assert len(decoder._vdm._repeats) <= 8192
    assert len(decoder._vdm._known) <= 2048


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ("AIVDM,1,1,,A,,0", "empty payload"),
        (f"AIVDM,1,1,,A,{PAYLOAD[:-1]}~,0", "payload with characters outside the six-bit set"),
        (f"AIVDM,1,1,,A,{PAYLOAD[:9]}X{PAYLOAD[10:]},0",
         "payload with characters outside the six-bit set"),
        (f"AIVDM,1,1,,A,X{PAYLOAD[1:]},0", "payload with characters outside the six-bit set"),
        (f"AIVDM,1,1,,A,{PAYLOAD[:-2]},0", "payload length does not fit its type"),
        (f"AIVDM,1,1,,A,{PAYLOAD},6", "not the layout of a VDM"),
        (f"AIVDM,1,1,,A,{PAYLOAD},", "not the layout of a VDM"),
        (f"AIVDM,1,1,,A,{PAYLOAD}", "not the layout of a VDM"),
        (f"AIVDM,1,2,,A,{PAYLOAD},0", "not the layout of a VDM"),
        (f"AIVDM,2,3,1,A,{PAYLOAD},0", "not the layout of a VDM"),
        (f"AIVDM,2,0,1,A,{PAYLOAD},0", "not the layout of a VDM"),
        (f"AIVDM,,1,1,A,{PAYLOAD},0", "not the layout of a VDM"),
        (f"AIVDM,x,1,1,A,{PAYLOAD},0", "not the layout of a VDM"),
        ("AIVDM", "not the layout of a VDM"),
    ],
)  # fmt: skip
def test_damage_is_refused_with_its_reason(body: str, why: str) -> None:
    """Sound checksum, unsound contents."""
    one = heard(sentence(body, "!"))
    assert (one.verdict, one.why, one.observations) == ("bad", why, ())


@pytest.mark.parametrize("talker", ["AI", "AB", "BS", "AN", "SA"])
def test_any_talker_is_heard(talker: str) -> None:
    """Shore stations and buoys relay too."""
    one = heard(sentence(f"{talker}VDM,1,1,,A,{PAYLOAD},0", "!"))
    assert (one.verdict, one.talker, one.kind) == ("good", talker, "VDM")
