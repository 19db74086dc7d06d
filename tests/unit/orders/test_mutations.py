"""Random damage to good orders: the loader never fails, and always says where the damage is."""

from __future__ import annotations

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.unit.orders.samples import GOOD, KINDS

from shipkeeper.app.kinds import KINDS as HOUSE_KINDS
from shipkeeper.orders import Kinds, explain, read, read_file

EXAMPLE = (Path(__file__).parents[3] / "config" / "orders.toml").read_text(encoding="utf-8")

# Values of every TOML type, and those that people get wrong.
_PLAIN = """
    5 5.5 -1 0 nan inf -inf 1e400 true false "" "5" [] {} [[]] [1] [1,2] ["a"] {x=1} [nan] 0xff
    1979-05-27 07:32:00 1979-05-27T07:32:00Z 999999999999999999999999 [[1,2],[3,4],[5,6]]
    "anchored" ["anchored"] "none" "alarm" "https://a:b@c/" "5m" "5kn" "-5m" "nanm" "5s"
    {from="1m",to="0m"} [{name="a"}] {left=0,right=0,to="1m"} "\\u0000" {line=1} """
VALUES = st.sampled_from(_PLAIN.split())
_KEYS = "name ring sector polygon around confirm watches call priority push urls tcp serial line"
KEYS = st.sampled_from(_KEYS.split(" "))


@st.composite
def damaged(draw: st.DrawFn, text: str) -> str:
    """A file with a few lines dropped, doubled, swapped, cut, or given another key or value."""
    rows = text.split("\n")
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(rows) - 1))
        row = rows[at]
        what = draw(st.sampled_from(["drop", "double", "swap", "cut", "value", "key", "insert"]))
        if what == "drop":
            del rows[at]
        elif what == "double":
            rows.insert(at, row)
        elif what == "swap":
            other = draw(st.integers(0, len(rows) - 1))
            rows[at], rows[other] = rows[other], row
        elif what == "cut":
            rows[at] = row[: draw(st.integers(0, len(row)))]
        elif what == "value" and "=" in row:
            rows[at] = f"{row.partition('=')[0]}= {draw(VALUES)}"
        elif what == "key" and "=" in row:
            rows[at] = f"{draw(KEYS)} ={row.partition('=')[2]}"
        elif what == "insert":
            cut = draw(st.integers(0, len(row)))
            rows[at] = row[:cut] + draw(st.text(max_size=4)) + row[cut:]
        if not rows:
            return ""
    return "\n".join(rows)


def judge(text: str, kinds: Kinds) -> None:
    """Orders that can be explained, or problems that have a line of the file and a reason."""
    orders, problems, remarks = read(text, "o.toml", kinds)
    last = text.count("\n") + 1
    assert (orders is None) == bool(problems)
    for problem in (*problems, *remarks):
        told = problem.told("o.toml")
        assert 1 <= problem.line <= last
        assert problem.where and problem.expected
        assert len(told.splitlines()) == 1, told
    if orders is not None:
        assert explain(orders)


@settings(max_examples=300, deadline=None)
@given(damaged(GOOD))
def test_damage_to_small_orders(text: str) -> None:
    """With kinds of our own."""
    judge(text, KINDS)


@settings(max_examples=150, deadline=None)
@given(damaged(EXAMPLE))
def test_damage_to_the_example(text: str) -> None:
    """With the kinds of the house."""
    judge(text, HOUSE_KINDS)


@settings(
    max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.binary(max_size=200), at=st.integers(0, len(GOOD)))
def test_any_bytes_in_the_file(tmp_path: Path, data: bytes, at: int) -> None:
    """Bytes of any sort within good orders; the file is written anew for each."""
    file = tmp_path / "orders.toml"
    file.write_bytes(GOOD[:at].encode() + data + GOOD[at:].encode())
    orders, problems, _ = read_file(file, KINDS)
    assert (orders is None) == bool(problems)
