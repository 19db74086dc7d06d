"""A million random and mutated lines through the feed: `python -m tests.fuzz.feed_lines`.

Sound sentences are strewn between garbage of many sorts: random bytes, sentences cut short,
with wrong checksums, with bytes flipped, spliced into each other, with whole and broken TAG
blocks, with and without a line's end, in chunks of random size. Held: nothing raises, memory
stays bounded, and every sound sentence comes out of the framer whole, in order, and is read.
"""

from __future__ import annotations

import argparse
import random
import re
import time
import tracemalloc
from collections import Counter, deque
from collections.abc import Iterator

import msgspec
from tests.unit.feed.said import checksum

from shipkeeper.feed.decode import Decoder
from shipkeeper.feed.framing import LONGEST, Framer

PART = re.compile(r".*!AIVD[MO],[2-9],")
SOUND = [
    "$GPRMC,093015.00,A,5036.2500,N,00112.5000,W,0.1,215.3,250726,1.2,W,A,V",
    "$GPRMC,093016.00,V,,,,,,,250726,,,N",
    "$GNGGA,001043.00,4404.14036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M,,",
    "$GPGLL,5036.2500,N,00112.5000,W,093015.00,V,N",
    "$GNGNS,093015.00,5036.2500,N,00112.5000,W,AAN,14,0.7,3.4,47.1,,,V",
    "$GNGSA,A,3,80,71,73,79,69,,,,,,,,1.83,1.09,1.47",
    "$GPGST,093015.00,1.2,2.1,1.4,035.0,1.9,1.6,3.0",
    "$GPVTG,220.86,T,,M,2.550,N,4.724,K,A",
    "$GPZDA,160012.71,11,03,2004,-1,00",
    "$GPGSV,3,1,11,03,03,111,00,04,15,270,00,06,01,010,00,13,06,292,00",
    "$GPHDT,274.07,T",
    "$HCHDG,101.1,2.0,E,7.1,W",
    "$HETHS,271.4,A",
    "$SDDPT,5.4,0.6,100.0",
    "$SDDBT,17.7,f,5.4,M,3.0,F",
    "$WIMWV,045.0,R,12.6,N,A",
    "$WIMWD,302.4,T,289.6,M,10.5,N,5.4,M",
    "$VWVHW,271.4,T,270.2,M,5.1,N,9.4,K",
    "$IIXDR,C,18.5,C,AIRTEMP,P,1.0132,B,BARO,U,12.6,V,BATT",
    "$RATTM,07,1.25,045.0,T,12.3,215.0,T,0.20,5.5,N,TGT07,T,,093015.00,A",
    "$RATLL,07,5037.1340,N,00111.1080,W,TGT07,093015.00,T,",
    "$GPTXT,01,01,25,DR MODE ^2C ANTENNA FAULT",
    "$INACN,093020.00,,3044,1,A,C",
    "$INACK,240",
    "$IIALR,093015.00,240,A,V,ANCHOR DRAG",
    "$PGRME,15.0,M,45.0,M,25.0,M",
    "!AIVDM,1,1,,A,15RTgt0PAso;90TKcjM8h6g208CQ,0",
    "!AIVDM,1,1,,B,B52K>;h00Fc>jpUlNV@ikwpUoP06,0",
    "!AIVDM,1,1,,A,403OviQuMGCqWrRO9>E6fE700@GO,0",
    "!AIVDM,1,1,,B,91b55wi;hbOS@OdQAC062Ch2089h,0",
    "!AIVDM,1,1,,A,>5?Per18=HB1U:1@E=B0m<L,2",
    "!AIVDM,1,1,,B,C5N3SRgPEnJGEBT>NhWAwwo862PaLELTBJ:V00000000S0D:R220,0",
    "!AIVDM,1,1,,A,H42O55i18tMET00000000000000,2",
    "!AIVDM,1,1,,A,KCQ9r=hrFUnH7P00,0",
    "!AIVDO,1,1,,,15RTgt0PAso;90TKcjM8h6g208CQ,0",
    "!AIVDM,2,1,1,A,55?MbV02;H;s<HtKR20EHE:0@T4@Dn2222222216L961O5Gf0NSQEp6ClRp8,0",
    "!AIVDM,2,2,1,A,88888888880,2",
]
SENTENCES = [f"{body}*{checksum(body[1:])}" for body in SOUND]
TAGS = [f"\\{body}*{checksum(body)}\\" for body in ("s:GP0001,n:123", "g:1-2-34,s:TI0001,n:8",
        "s:gnss,c:1781234567890", "c:1241544035,s:r003669945")]  # fmt: skip
ENDS = [b"\r\n", b"\n", b"\r", b"\r\n\r\n"]
NOISE = bytes(c for c in range(256) if c not in b"\r\n")


class Garbage:
    """Every sort of line that is no sound sentence."""

    def __init__(self, rand: random.Random) -> None:
        self.rand = rand
        self.sorts = [
            self.noise, self.cut, self.wrong_checksum, self.flipped, self.spliced, self.broken_tag,
            self.lost_start, self.printable, self.endless,
        ]  # fmt: skip

    def __call__(self) -> bytes:
        return self.rand.choice(self.sorts)()

    def sentence(self) -> str:
        return self.rand.choice(SENTENCES)

    def noise(self) -> bytes:
        return bytes(self.rand.choices(NOISE, k=self.rand.randrange(1, 90)))

    def printable(self) -> bytes:
        return bytes(self.rand.choices(range(32, 127), k=self.rand.randrange(1, 90)))

    def cut(self) -> bytes:
        text = self.sentence()
        return text[: self.rand.randrange(1, len(text))].encode()

    def lost_start(self) -> bytes:
        text = self.sentence()
        return text[self.rand.randrange(1, len(text)) :].encode()

    def wrong_checksum(self) -> bytes:
        return self.sentence()[:-2].encode() + self.rand.choice([b"", b"0", b"ZZ", b"%02X" % 7])

    def flipped(self) -> bytes:
        raw = bytearray(self.sentence().encode())
        for _ in range(self.rand.randrange(1, 4)):
            raw[self.rand.randrange(len(raw))] ^= 1 << self.rand.randrange(8)
        return bytes(raw).replace(b"\r", b"x").replace(b"\n", b"x")

    def spliced(self) -> bytes:
        one, other = self.sentence(), self.sentence()
        return (
            one[: self.rand.randrange(len(one))] + other[self.rand.randrange(len(other)) :]
        ).encode()

    def broken_tag(self) -> bytes:
        tag = self.rand.choice(TAGS)
        return tag[: self.rand.randrange(1, len(tag))].encode()

    def endless(self) -> bytes:
        if self.rand.random() < 0.98:
            return self.noise()
        return bytes(self.rand.choices(NOISE, k=self.rand.randrange(500, 5000)))


def stream(rand: random.Random, lines: int, due: deque[str]) -> Iterator[bytes]:
    """Lines as bytes; every sound sentence among them is put into `due` as it is given."""
    garbage = Garbage(rand)
    for _ in range(lines):
        if rand.random() < 0.5:
            piece = garbage()
        else:
            text = rand.choice(SENTENCES)
            due.append(text)
            if rand.random() < 0.2:
                text = "".join(rand.choices(TAGS, k=rand.randrange(1, 3))) + text
            piece = text.encode()
            if rand.random() < 0.1:
                piece = garbage() + piece
            if rand.random() < 0.05:
                piece = b"UdPbC\x00" + piece
        yield piece + (rand.choice(ENDS) if rand.random() < 0.85 else b"")


def chunks(rand: random.Random, pieces: Iterator[bytes]) -> Iterator[bytes]:
    """The same bytes in other pieces, as wires bring them."""
    held = b""
    for piece in pieces:
        held += piece
        while held and rand.random() < 0.6:
            size = rand.choice([1, 2, 16, 64, 256, 4096])
            yield held[:size]
            held = held[size:]
    yield held + b"\r\n"


class Figures(msgspec.Struct):
    """What a run came to."""

    lines: int = 0
    sound: int = 0
    missed: int = 0
    framed: int = 0
    longest_held: int = 0
    verdicts: dict[str, int] = {}
    why: dict[str, int] = {}
    seconds: float = 0.0
    peak_kb: float = 0.0
    grown_kb: float = 0.0


def run(lines: int, seed: int) -> Figures:
    """Raises whatever the feed raises, and AssertionError when something is not held."""
    rand = random.Random(seed)
    due: deque[str] = deque()
    framer, decoder, figures = Framer(), Decoder(), Figures(lines=lines)
    verdicts: Counter[str] = Counter()
    why: Counter[str] = Counter()
    tracemalloc.start()
    settled = 0
    begin = time.process_time()
    for number, chunk in enumerate(chunks(rand, stream(rand, lines, due))):
        for text in framer.feed(chunk):
            figures.framed += 1
            heard = decoder.decode(figures.framed * 0.02, "wire", text)
            verdicts[heard.verdict] += 1
            why[heard.why] += 1
            if due and text.endswith(due[0]):
                figures.sound += 1
                due.popleft()
                # A part may meet a damaged one with a checksum that fits by chance, and be
                # refused with it; nothing else may be refused.
                assert heard.verdict != "bad" or PART.match(text), (text, heard.why)
        figures.longest_held = max(figures.longest_held, len(framer._rest))
        if number == 20_000:
            settled = tracemalloc.get_traced_memory()[0]
    figures.seconds = time.process_time() - begin
    now, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    figures.missed = len(due)
    figures.peak_kb, figures.grown_kb = peak / 1024, (now - settled) / 1024 if settled else 0.0
    figures.verdicts, figures.why = dict(verdicts), dict(why.most_common(12))
    assert not due, f"first sentence not found: {due[0]}"
    assert figures.longest_held <= LONGEST
    return figures


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    print(msgspec.json.format(msgspec.json.encode(run(chosen.lines, chosen.seed))).decode())


if __name__ == "__main__":
    main()
