"""Names in the orders are told apart by the same letters as alerts are."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.alerts.naming import slug_of
from shipkeeper.orders.cross import folded


@given(st.text(max_size=30))
def test_two_rules_that_would_be_one_alert_have_one_name_here(name: str) -> None:
    """The loader may not import alerts, so this holds the two together."""
    assert folded(name) == "" or folded(name) == slug_of(name)
