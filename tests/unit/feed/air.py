"""AIS sentences for tests, packed by pyais: an encoder that is not ours."""

from __future__ import annotations

from typing import Any

from pyais import decode
from pyais.encode import encode_dict
from tests.unit.feed.said import sentence

ARMOUR = "0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVW`abcdefghijklmnopqrstuvw"


def message(own: bool = False, sequence: int = 1, **fields: Any) -> list[str]:
    """Sentences of one message; `type` and `mmsi` as pyais names them."""
    lines = encode_dict(fields, "AI", "VDO" if own else "VDM", seq_id=sequence)
    return [str(line) for line in lines]


def armoured(bits: str) -> tuple[str, int]:
    """A string of 0 and 1 -> payload and fill bits."""
    fill = -len(bits) % 6
    bits += "0" * fill
    return "".join(ARMOUR[int(bits[i : i + 6], 2)] for i in range(0, len(bits), 6)), fill


def vdm(payload: str, fill: int = 0, total: int = 1, number: int = 1, sequence: str = "") -> str:
    return sentence(f"AIVDM,{total},{number},{sequence},A,{payload},{fill}", "!")


def by_pyais(*lines: str) -> Any:
    """pyais' own decode; Any, since only a person knows which of 56 classes it will be."""
    return decode(*lines)
