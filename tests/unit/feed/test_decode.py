"""The door: verdicts, reasons, TAG blocks, and no text that raises."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.feed.said import heard, sentence

from shipkeeper.feed.decode import MOST_ADDRESSES, Decoder
from shipkeeper.feed.tagblock import make_tag

HDT = "$GPHDT,274.07,T*03"


def test_a_good_sentence() -> None:
    """Kind and talker apart, no reason."""
    one = heard(HDT)
    assert (one.verdict, one.kind, one.talker, one.why) == ("good", "HDT", "GP", "")
    assert (one.source, one.tag_time_s) == (None, None)


def test_a_tagged_sentence_names_source_and_time() -> None:
    """For recordings and relays."""
    one = heard(make_tag("gnss", 1781234567.5) + HDT)
    assert (one.verdict, one.source, one.tag_time_s) == ("good", "gnss", 1781234567.5)
    assert len(one.observations) == 1


def test_checksum_wrong_absent_or_torn() -> None:
    """Nothing is read from it, whatever it says; the kind is told for the journal."""
    for text, why in (
        ("$GPHDT,274.07,T*04", "wrong checksum"),
        ("$GPHDT,274.08,T*03", "wrong checksum"),
        ("$GPHDT,274.07,T", "no checksum"),
        ("$GPHDT,274.07,T*", "no checksum"),
        ("$GPHDT,274.07,T*0", "no checksum"),
        ("$GPHDT,274.07,T*0G", "no checksum"),
    ):
        one = heard(text)
        assert (one.verdict, one.kind, one.why, one.observations) == ("bad", "HDT", why, ())


def test_lower_case_checksum() -> None:
    """Some receivers write it so."""
    assert heard("$VDALF,1,0,1,220516,B,A,S,SAL,001,1,2,0,My alarm*2c").verdict == "unused"


def test_what_is_no_sentence() -> None:
    """Junk lines of the framer."""
    for text in ("", "junk", "?????", "GPHDT,274.07,T*03", "\\", "\\s:a", "é" + HDT, "$", "!", "*",
                 "$*00", "$,*2C", "!!!!*21"):  # fmt: skip
        one = heard(text)
        assert (one.verdict, one.observations) == ("bad", ()), text


def test_proprietary_and_query_sentences_are_unused() -> None:
    """Counted by their maker; sound."""
    one = heard(sentence("PGRME,15.0,M,45.0,M,25.0,M"))
    assert (one.verdict, one.kind) == ("unused", "PGRM")
    assert heard(sentence("CCGPQ,GGA")).verdict == "unused"


def test_a_sentence_under_the_wrong_start_is_not_read() -> None:
    """`$` is for fields, `!` for packed payloads."""
    assert heard(sentence("GPHDT,274.07,T", "!")).verdict == "unused"
    assert heard(sentence("AIVDM,1,1,,A,15RTgt0PAso;90TKcjM8h6g208CQ,0", "$")).verdict == "unused"


def test_addresses_are_remembered_within_bounds() -> None:
    """Garbage has addresses too."""
    decoder = Decoder()
    for number in range(5000):
        decoder.decode(1.0, "wire", f"${number:05d},x")
    assert len(decoder._addresses) <= MOST_ADDRESSES


@given(st.text(max_size=200), st.floats(0, 1e10))
@settings(max_examples=300, deadline=None)
def test_no_text_raises(text: str, at_s: float) -> None:
    """Any text whatever: a verdict."""
    for start in ("", "$", "!", "\\", "$GPRMC,", "!AIVDM,1,1,,A,"):
        line = start + text
        assert heard(line, at_s).verdict in ("good", "unused", "partial", "duplicate", "bad")
        if line.isascii() and line:
            assert heard(sentence(line[1:], line[0]), at_s).verdict


@given(st.lists(st.text("0123456789.,+-NSEWATRVnaif*_ex \\^", max_size=12), max_size=24))
@settings(max_examples=300, deadline=None)
def test_no_fields_raise(fields: list[str]) -> None:
    """Any fields in a sound sentence of every type."""
    from shipkeeper.feed.nmea0183 import READERS

    body = ",".join(fields)
    for kind in READERS:
        heard(sentence(f"II{kind},{body}"))
    heard(sentence(f"AIVDM,{body}", "!"))
