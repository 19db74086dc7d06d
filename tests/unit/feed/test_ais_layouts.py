"""Our layouts of AIS messages against those of pyais, field by field."""

from __future__ import annotations

from typing import Any

import pytest
from pyais import messages

from shipkeeper.feed import ais_layouts as ours


@pytest.mark.parametrize(
    ("layout", "theirs"),
    [
        (ours.CLASS_A, messages.MessageType1),
        (ours.CLASS_A, messages.MessageType2),
        (ours.CLASS_A, messages.MessageType3),
        (ours.BASE, messages.MessageType4),
        (ours.STATIC, messages.MessageType5),
        (ours.AIRCRAFT, messages.MessageType9),
        (ours.CLASS_B, messages.MessageType18),
        (ours.CLASS_B_EXTENDED, messages.MessageType19),
        (ours.AID, messages.MessageType21),
        (ours.STATIC_B_NAME, messages.MessageType24PartA),
        (ours.STATIC_B_SIZE, messages.MessageType24PartB),
        (ours.STATIC_B_CRAFT, messages.MessageType24PartBAuxiliaryCraft),
        (ours.LONG_RANGE, messages.MessageType27),
    ],
)
def test_every_field_lies_where_the_library_has_it(layout: ours.Layout, theirs: Any) -> None:
    assert list(layout.items()) == [(f.name, f.metadata["width"]) for f in theirs.fields()]
