"""House rule: every example in config/ loads without a warning and shows what there is."""

from __future__ import annotations

from pathlib import Path

import pytest
import tomli

from shipkeeper.app.kinds import KINDS
from shipkeeper.orders import explain, read_file
from shipkeeper.orders.entries import key_of

CONFIG = Path(__file__).parents[2] / "config"
EXAMPLES = sorted(CONFIG.glob("*.toml"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_each_example_is_good_without_a_warning(path: Path) -> None:
    """A stranger who copies an example begins with orders that are in order."""
    orders, problems, remarks = read_file(path, KINDS)
    assert [problem.told(path.name) for problem in problems] == []
    assert [r.told(path.name) for r in remarks if r.weight == "warning"] == []
    assert orders is not None and explain(orders)


def test_there_are_examples() -> None:
    """The complete one has the name that the documents give it."""
    assert CONFIG / "orders.toml" in EXAMPLES


def test_each_kind_of_rule_is_in_an_example() -> None:
    """A kind that is shown nowhere is found by nobody."""
    tables = set().union(*(tomli.loads(path.read_text()) for path in EXAMPLES))
    assert {kind.table for kind in KINDS.rules} <= tables


def test_each_kind_of_input_and_outlet_is_at_least_named() -> None:
    """Kinds that a boat has only one of may stand in a comment."""
    text = "\n".join(path.read_text() for path in EXAMPLES)
    for kind in (*KINDS.inputs, *KINDS.outlets):
        assert f"{key_of(kind)} = " in text, key_of(kind)
