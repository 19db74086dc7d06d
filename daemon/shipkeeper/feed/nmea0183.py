"""The sentences that are read, by their three letters, and who reads them.

A type that is not here is 'unused': it is counted and shows that the wire lives, and is not
looked into. To read one more: write its reader beside its family and add a line here.
"""

from __future__ import annotations

from collections.abc import Callable

from ..words.observations import Observation
from . import instruments, messages, position, radar
from .fields import PAD, Fields

Reader = Callable[[Fields], tuple[Observation, ...]]

READERS: dict[str, Reader] = {
    "RMC": position.rmc,
    "GGA": position.gga,
    "GLL": position.gll,
    "GNS": position.gns,
    "GSA": position.gsa,
    "GST": position.gst,
    "VTG": position.vtg,
    "ZDA": position.zda,
    "HDT": instruments.hdt,
    "HDG": instruments.hdg,
    "HDM": instruments.hdm,
    "THS": instruments.ths,
    "DPT": instruments.dpt,
    "DBT": instruments.dbt,
    "MWV": instruments.mwv,
    "MWD": instruments.mwd,
    "VHW": instruments.vhw,
    "XDR": instruments.xdr,
    "TTM": radar.ttm,
    "TLL": radar.tll,
    "TXT": messages.txt,
    "ACN": messages.acn,
    "ACK": messages.ack,
}


def read(reader: Reader, body: str) -> tuple[Observation, ...]:
    """Observations of a sentence's body: all between `$` and `*`, checksum seen to."""
    fields = body.split(",")
    fields += PAD
    return reader(fields)
