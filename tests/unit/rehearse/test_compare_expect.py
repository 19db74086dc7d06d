"""Compare, expectations and the sweep's table on nights made up by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.unit.rehearse.made import ACK, RECT, UNACK, night, told

from shipkeeper.rehearse.compare import compare
from shipkeeper.rehearse.expect import BadExpectations, check, read_expectations
from shipkeeper.rehearse.sweep import most_likely_at_most, tabled

T = 1_781_215_200.0  # 2026-06-11T22:00:00Z


def test_compare_pairs_what_is_the_same_event() -> None:
    """Earlier, later, gone, new and the same, each by hand."""
    first = night(
        0, 9000,
        told(100, "drag", "normal", UNACK),
        told(1000, "zone:1", "normal", UNACK, "warning"),
        told(1060, "zone:1", UNACK, RECT, "warning"),
        told(5000, "wind", "normal", UNACK),
        told(6000, "feed:x", "normal", UNACK),
    )  # fmt: skip
    second = night(
        0, 9000,
        told(80, "drag", "normal", UNACK),
        told(5200, "wind", "normal", UNACK),
        told(6000, "feed:x", "normal", UNACK),
        told(7000, "zone:1", "normal", UNACK, "warning"),
    )  # fmt: skip
    found = [(c.alert, c.change, c.seconds) for c in compare([first], [second])]
    assert found == [
        ("drag", "earlier", -20),
        ("zone:1", "gone", None),
        ("wind", "later", 200),
        ("feed:x", "same", 0),
        ("zone:1", "new", None),
    ]


def test_a_caution_is_compared_with_a_caution() -> None:
    """The orders asked about tell no caution first: the alarm is later, the caution is gone."""
    first = night(
        0, 9000,
        told(100, "drag", "normal", "active", "caution"),
        told(160, "drag", "active", UNACK, "alarm", reason="worse"),
    )  # fmt: skip
    second = night(0, 9000, told(200, "drag", "normal", UNACK))
    found = [(c.change, c.seconds) for c in compare([first], [second])]
    assert found == [("gone", None), ("later", 40)]


def expectations(folder: Path, text: str) -> Path:
    path = folder / "expect.toml"
    path.write_text(text)
    return path


def test_expectations_kept_and_broken(tmp_path: Path) -> None:
    """At a time with slack, over a span, by a pattern; and outside every recording."""
    path = expectations(
        tmp_path,
        """
        [[expect]]
        at = 2026-06-11T22:01:00Z
        within = "60 s"
        alert = "drag"
        state = "active-unacknowledged"
        [[expect]]
        at = "2026-06-11T22:01:00Z"
        alert = "drag"
        state = "raised"
        [[expect]]
        from = "2026-06-11T22:00:00Z"
        to = "2026-06-11T23:00:00Z"
        alert = "zone:*"
        state = "not raised"
        [[expect]]
        at = "2026-06-11T22:20:00Z"
        alert = "drag"
        state = "active-acknowledged"
        [[expect]]
        at = "2026-06-12T22:00:00Z"
        alert = "drag"
        state = "normal"
        [[expect]]
        at = "2026-06-11T22:20:00Z"
        alert = "depth"
        state = "normal"
        """,
    )
    one = night(
        T, T + 3600,
        told(T + 100, "drag", "normal", UNACK),
        told(T + 130, "drag", UNACK, ACK, reason="acknowledge"),
        told(T + 200, "zone:9", "normal", UNACK, "warning"),
    )  # fmt: skip
    kept = check(read_expectations(path), [one])
    assert [k.kept for k in kept] == [True, False, False, True, False, True]
    assert kept[1].was == "drag: normal"
    assert kept[4].was == "no recording covers this time"


def test_every_problem_of_the_file_at_once(tmp_path: Path) -> None:
    """File, entry, key and what was expected, one line each."""
    path = expectations(
        tmp_path,
        """
        extra = 1
        [[expect]]
        at = "yesterday"
        alert = "drag"
        state = "loud"
        [[expect]]
        at = "2026-06-11T22:01:00Z"
        to = "2026-06-11T22:01:00Z"
        alert = ""
        state = "raised"
        when = 3
        within = 60
        """,
    )
    with pytest.raises(BadExpectations) as bad:
        read_expectations(path)
    lines = str(bad.value).splitlines()
    assert all(line.startswith(f"{path}: ") for line in lines)
    for wanted in ("extra: expected only", "expect 1: state: expected one of raised",
                   "expect 1: at: expected a UTC time", "expect 2: when: unknown key",
                   "expect 2: alert: expected an id", "expect 2: within: needs a unit",
                   "expect 2: at: expected either `at`"):  # fmt: skip
        assert any(wanted in line for line in lines), (wanted, lines)
    with pytest.raises(BadExpectations, match="cannot be read: No such file"):
        read_expectations(tmp_path / "none.toml")


def test_sweep_with_expectations_counts_all_else_as_for_nothing(tmp_path: Path) -> None:
    """A tight value raises the drag early, and once before for nothing; a wide one late; the
    widest not at all. Every event first, then quiet, then early: the middle one."""
    path = expectations(
        tmp_path,
        """
        [[expect]]
        from = "2026-06-11T22:30:00Z"
        to = "2026-06-11T23:00:00Z"
        alert = "drag"
        state = "raised"
        """,
    )
    tight = night(
        T, T + 7200,
        told(T + 300, "drag", "normal", UNACK, far_m=31.0),
        told(T + 1500, "drag", UNACK, RECT),
        told(T + 1900, "drag", RECT, UNACK, far_m=40.0),
    )  # fmt: skip
    middle = night(T, T + 7200, told(T + 2000, "drag", "normal", UNACK, far_m=48.0))
    late = night(T, T + 7200, told(T + 2600, "drag", "normal", UNACK, far_m=70.0))
    never = night(T, T + 7200)
    swept = tabled(
        "drag.margin", "drag", ("2 m", "10 m", "20 m", "90 m"),
        [[tight], [middle], [late], [never]],
        read_expectations(path),
    )  # fmt: skip
    assert swept.said_by == "expectations"
    assert [(s.value, s.nuisance, s.found, s.latest_s, s.farthest_m) for s in swept.settings] == [
        ("2 m", 1, 1, 0.0, 40.0),
        ("10 m", 0, 1, 100.0, 48.0),
        ("20 m", 0, 1, 700.0, 70.0),
        ("90 m", 0, 0, None, None),
    ]
    assert swept.recommended == "10 m"


def test_the_upper_bound_is_that_of_poisson() -> None:
    """0 seen -> 3.00 and 1 seen -> 4.74, the one-sided 95 % bounds of a Poisson mean in
    statistical tables (from memory; the first is -ln 0.05)."""
    assert most_likely_at_most(0) == pytest.approx(2.9957, abs=1e-3)
    assert most_likely_at_most(1) == pytest.approx(4.744, abs=1e-3)
