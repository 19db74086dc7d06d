"""House rule: every number that orders can hold declares both bounds.

An open number lets a slip of the finger through (a radius of 45000 m), and infinity with it.
"""

from __future__ import annotations

import math
import typing
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest

from shipkeeper.app.kinds import KINDS
from shipkeeper.orders.secret_refs import is_secret_key
from shipkeeper.orders.words_for import expected, fields_of, is_struct, mark_of, options
from shipkeeper.words.orders import Table
from shipkeeper.words.units import UNITS

STRUCTS = sorted(
    {kind for group in KINDS.by_table().values() for kind in group}, key=lambda kind: kind.__name__
)
EACH = pytest.mark.parametrize("struct", STRUCTS, ids=lambda kind: kind.__name__)


def leaves(kind: Any, path: str) -> Iterator[tuple[str, Any]]:
    """(path, type) of everything that can stand in a field, down to the last number."""
    for choice in options(kind):
        if is_struct(choice):
            yield from leaves_of(choice, f"{path}.")
        elif mark_of(choice) is None and typing.get_origin(choice) in (tuple, list, frozenset):
            for inner in typing.get_args(choice):
                if inner is not Ellipsis:
                    yield from leaves(inner, f"{path}[]")
        elif typing.get_origin(choice) is typing.Annotated and mark_of(choice) is None:
            yield from leaves(typing.get_args(choice)[0], path)
        else:
            yield path, choice


def leaves_of(struct: type[msgspec.Struct], path: str = "") -> Iterator[tuple[str, Any]]:
    for field in fields_of(struct):
        yield from leaves(field.kind, path + field.key)


@EACH
def test_every_number_has_both_bounds(struct: type[Table]) -> None:
    """No bare int or float; both ends finite, and the low one lower."""
    for path, kind in leaves_of(struct):
        assert kind not in (int, float, typing.Any), f"{struct.table}.{path} is an open number"
        mark = mark_of(kind)
        if mark is not None:
            assert math.isfinite(mark.low) and math.isfinite(mark.high), path
            assert mark.low < mark.high, path
            assert getattr(mark, "dimension", "length") in UNITS, path


@EACH
def test_every_default_is_within_its_bounds(struct: type[Table]) -> None:
    """A default that could not be written in the file would be a secret of ours."""
    for field, info in zip(fields_of(struct), msgspec.structs.fields(struct), strict=True):
        if not isinstance(info.default, int | float) or isinstance(info.default, bool):
            continue
        marks = [mark for choice in options(field.kind) if (mark := mark_of(choice)) is not None]
        assert any(mark.low <= info.default <= mark.high for mark in marks), field.key


@EACH
def test_every_key_can_be_asked_for_in_words(struct: type[Table]) -> None:
    """A person is told what is expected of each key, never the name of a Python type."""
    for field in fields_of(struct):
        words = expected(field.kind)
        assert words and "typing" not in words and "None" not in words, field.key


@EACH
def test_keys_are_words_not_python_names(struct: type[Table]) -> None:
    """Units belong to the name inside the house, never to the key in the file."""
    for path, _ in leaves_of(struct):
        for key in path.replace("[]", "").split("."):
            assert not key.endswith(("_m", "_s", "_ms", "_deg", "_kn", "_bytes")), path


def test_every_secret_of_an_outlet_is_known_as_one() -> None:
    """What an outlet hands to its secret reader is looked after by the loader, by its key."""
    seen = 0
    for struct in KINDS.outlets:
        for path, kind in leaves_of(struct):
            key = path.rpartition(".")[2]
            if kind is str and is_secret_key(key):
                seen += 1
    assert seen > 0
