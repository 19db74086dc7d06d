"""House rule: every example in config/ loads without a warning and shows what there is."""

from __future__ import annotations

import ast
import re
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


def test_every_title_is_in_what_to_do_at_each_alarm() -> None:
    """Whoever is woken by words finds them there. Titles that the orders name are told by kind."""
    alerts = Path(__file__).parents[2] / "daemon" / "shipkeeper" / "alerts"
    titles = {
        node.value
        for path in alerts.glob("wording*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and re.fullmatch(r"[A-Z][A-Z?: ]{3,15}", node.value)
    }
    assert {"ANCHOR DRAGS", "CLOSE SHIP", "WIND", "NOT WATCHED", "ARE YOU THERE?"} <= titles
    text = (CONFIG / "commissioning.md").read_text()
    rows = text[text.index("## What to do at each alarm") :].splitlines()
    told = {title for row in rows if row[:2] == "| " for title in row.split("|")[1].split(", ")}
    assert titles - {title.strip() for title in told} == set()
