"""`--explain`: every rule, every key, every default, in words and in the file's own form."""

from __future__ import annotations

from pathlib import Path

import tomli
from tests.unit.orders.samples import GOOD, KINDS

from shipkeeper.app.kinds import KINDS as HOUSE_KINDS
from shipkeeper.orders import explain, load, read
from shipkeeper.orders.explaining import keys
from shipkeeper.orders.words_for import fields_of


def lines() -> list[str]:
    orders, _, _ = read(GOOD, "o.toml", KINDS)
    assert orders is not None
    return explain(orders)


def test_each_rule_says_what_it_will_do() -> None:
    """The kind's own sentences, delays, watches, who is called."""
    text = "\n".join(lines())
    assert 'zone "inner guard zone": warning' in text
    assert "Raised when a target comes within 463 m." in text
    assert "Raised when it has held for 5 s; cleared when it has been gone for 60 s." in text
    assert "Stands in: anchored, moored. Calls: buzzer." in text
    assert "Stands in: every watch. Calls: every outlet." in text
    assert "Nobody has acknowledged for 30 s: calls skipper." in text


def test_defaults_are_marked_and_keys_left_out_are_explained() -> None:
    """A person sees what was chosen and what was taken for granted."""
    text = "\n".join(lines())
    assert '    ring = { from = "0 m", to = "0.25 NM" }\n' in text
    assert '    clear = "1 min"  (default)' in text
    assert "    deadband: 20 m  (default)" in text
    assert "    call: every outlet  (default)" in text


def test_what_is_told_can_be_read_again() -> None:
    """The printed keys of a table are TOML, and give the same table."""
    orders, _, _ = read(GOOD, "o.toml", KINDS)
    assert orders is not None
    parts = []
    singles = (orders.vessel, *[rule for rule in orders.rules if not rule.many])
    many = (*[rule for rule in orders.rules if rule.many], *orders.inputs, *orders.outlets)
    for header, tables in (("[{}]", singles), ("[[{}]]", (*many, *orders.call_list))):
        for table in tables:
            rows = [row.replace("  (default)", "") for row in keys(table) if " = " in row]
            parts.append("\n".join([header.format(table.table), *rows]))
    text = "\n".join(parts)
    tomli.loads(text)
    again, problems, _ = read(text, "o.toml", KINDS)
    assert problems == [] and again is not None
    assert (again.vessel, again.rules) == (orders.vessel, orders.rules)
    assert (again.inputs, again.outlets) == (orders.inputs, orders.outlets)


def test_every_key_of_every_rule_is_there() -> None:
    """Nothing that can be set is hidden."""
    text = "\n".join(lines())
    for kind in KINDS.rules:
        for field in fields_of(kind):
            assert f"    {field.key} = " in text or f"    {field.key}: " in text


def test_the_feed_and_the_drag_rule_tell_their_true_patience() -> None:
    """Feed's own key is `alarm_after`, not `confirm`; reckoned drag is looked at over 30 s."""
    orders = load(Path(__file__).parents[3] / "config" / "orders.toml", HOUSE_KINDS)
    text = "\n".join(explain(orders))
    assert "Raised when it has held for 60 s; cleared when it has been gone for 30 s." in text
    assert "`status` shows it after 10 s." in text
    assert "Under way it is raised after 30 s." in text
    assert "Looked at over 30 s, less when she makes way outwards, whatever confirm says." in text
