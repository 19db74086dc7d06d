"""The checksum against published examples and against the plain definition."""

import random

from shipkeeper.feed.checksum import HEX, xor8


def test_published_sentences_have_their_published_checksums() -> None:
    """Source: NMEA document of the gpsd project (check-values, section 4.1)."""
    for body, expected in (
        ("GPHDT,274.07,T", 0x03),
        ("INDPT,2.3,0.0", 0x46),
        ("GPGST,182141.000,15.5,15.3,7.2,21.8,0.9,0.5,0.8", 0x54),
        ("WIMWD,302.4,T,289.6,M,10.5,N,5.4,M", 0x6F),
    ):
        assert xor8(body.encode()) == expected


def test_any_bytes_of_any_length_give_the_xor_of_all() -> None:
    """The folded sum is the plain XOR, from nothing to far beyond a sentence."""
    rand = random.Random(1)
    for length in [*range(140), 255, 256, 257, 1023, 1024, 5000]:
        raw = rand.randbytes(length)
        plain = 0
        for byte in raw:
            plain ^= byte
        assert xor8(raw) == plain, length


def test_two_hex_digits_of_either_case_and_nothing_else() -> None:
    """'4a' and '4A' are one; what int() would also take is not."""
    assert HEX["4a"] == HEX["4A"] == HEX["4A".lower()] == 0x4A
    assert not {" 5", "+5", "5", "_1", ""} & set(HEX)
    assert len(set(HEX.values())) == 256
