"""TAG blocks: published and own examples, damaged ones, and the recorder's own."""

from __future__ import annotations

import pytest
from tests.unit.feed.said import checksum, heard

from shipkeeper.feed.tagblock import make_tag, split_tag, split_tags

VDM = "!AIVDM,1,1,,B,15N4cJ`005Jrek0H@9n`DW5608EP,0*13"


def test_published_example() -> None:
    """Source: E. S. Raymond, AIVDM/AIVDO protocol decoding (check-values 4.3)."""
    tag, rest = split_tag("\\g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A\\" + VDM)
    assert tag is not None
    assert (tag.source, tag.time_s, tag.group, tag.line) == (
        "r003669945", 1241544035.0, (1, 2, 73874), 157036,
    )  # fmt: skip
    assert rest == VDM


def test_own_examples() -> None:
    """Computed in check-values 4.3."""
    tag, _ = split_tag("\\s:HE0001,d:VR0001,n:7*7D\\")
    assert tag is not None
    assert (tag.source, tag.destination, tag.line) == ("HE0001", "VR0001", 7)
    tag, _ = split_tag("\\c:1784972415,s:II0001*3B\\x")
    assert tag is not None
    assert tag.time_s == 1784972415.0


def test_time_in_seconds_and_milliseconds() -> None:
    """Above 1e11 it is milliseconds (check-values 4.3)."""
    for text, expected in (
        ("1781234567", 1781234567.0),
        ("1781234567890", 1781234567.89),
        ("1781234567.25", 1781234567.25),
    ):
        body = f"c:{text}"
        tag, _ = split_tag(f"\\{body}*{checksum(body)}\\{VDM}")
        assert tag is not None
        assert tag.time_s == expected


@pytest.mark.parametrize("text", ["", "x", "-5", "nan", "inf", "1e9", " 1", "1_0", "9" * 40])
def test_a_time_that_cannot_be_read_is_none(text: str) -> None:
    """Absent, never zero."""
    body = f"c:{text},s:a"
    tag, _ = split_tag(f"\\{body}*{checksum(body)}\\{VDM}")
    assert tag is not None
    assert tag.time_s is None
    assert tag.source == "a"


def test_only_the_first_block_is_split_off() -> None:
    """In a recording the first is the recorder's; the device's own must stay."""
    device = "\\s:GP0001,n:123*17\\$GPHDT,274.07,T*03"
    tag, rest = split_tag(make_tag("gnss", 1781234567.89) + device)
    assert tag is not None
    assert (tag.source, tag.time_s) == ("gnss", 1781234567.89)
    assert rest == device


@pytest.mark.parametrize("line", ["junk", "\\broken", "1:23*17\\$GPHDT,274.07,T*03", "", "\\"])
def test_the_recorder_keeps_junk_as_it_came(line: str) -> None:
    """What follows the recorder's block is handed back to the letter."""
    tag, rest = split_tag(make_tag("gnss", 1.5) + line)
    assert tag is not None
    assert rest == line


def test_joined_blocks_the_first_to_say_a_thing_counts() -> None:
    """Two blocks in front of one sentence."""
    tag, rest = split_tags(make_tag("a", 10.0) + "\\s:GP0001,n:123*17\\" + VDM)
    assert (tag.source, tag.time_s, tag.line, rest) == ("a", 10.0, 123, VDM)


def test_a_damaged_block_says_nothing_and_its_sentence_stands() -> None:
    """The sentence has a checksum of its own."""
    one = heard("\\s:GP0001,n:123*18\\" + VDM)
    assert (one.verdict, one.source) == ("good", None)


def test_a_block_alone() -> None:
    """Sound: not used. Damaged: bad."""
    assert heard("\\s:GP0001,n:123*17\\").verdict == "unused"
    assert heard("\\s:GP0001,n:123*18\\").verdict == "bad"


@pytest.mark.parametrize("name", ["gnss", "aft, port", "Größe*$!\\^", "wheel house", "日本"])
def test_any_name_from_the_orders_comes_back(name: str) -> None:
    """Reserved characters are written ^hh, so a replayed line has its input's name."""
    text = make_tag(name, 1781234567.125)
    tag, rest = split_tag(text + VDM)
    assert text.isascii()
    assert tag is not None
    assert (tag.source, tag.time_s, rest) == (name, 1781234567.125, VDM)


@pytest.mark.parametrize("at_s", [0.0, 0.001, 10.25, 86400.0, 99_999_999.999, 1e8, 1781234567.89])
def test_a_computer_that_woke_in_1970_reads_its_own_times_back(at_s: float) -> None:
    """Few milliseconds are not mistaken for seconds."""
    tag, _ = split_tag(make_tag("gnss", at_s))
    assert tag is not None
    assert tag.time_s == at_s
