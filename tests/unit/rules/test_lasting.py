"""What must last: the least value of a span, held against a plain search."""

from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.rules.anchoring.excess import LowWater, stern_bonus_m

SPAN_S = 20.0


def plainly(fed: list[tuple[float, float]], now_s: float) -> float:
    """The least value that stood at any time of the span; each stands until the next."""
    began_s = now_s - SPAN_S
    if fed[0][0] > began_s or len(fed) < 2:
        return 0.0
    standing = [v for t, v in fed if t <= began_s][-1:]
    return min([*standing, *[v for t, v in fed if t > began_s]])


@given(st.lists(st.tuples(st.sampled_from((0.1, 1.0, 5.0, 12.0, 34.0)), st.integers(-3, 9))))
def test_the_least_of_the_span_at_any_rate_and_after_silence(
    steps: list[tuple[float, int]],
) -> None:
    low, now_s, fed = LowWater(SPAN_S), 0.0, []
    for dt, value in steps:
        now_s += dt
        fed.append((now_s, float(value)))
        assert low.feed(now_s, float(value)) == plainly(fed, now_s)


def test_two_wild_fixes_after_a_dropout_are_not_a_span() -> None:
    low = LowWater(SPAN_S)
    for second in range(60):
        low.feed(float(second), -5.0)
    for t in (94.0, 95.0, 113.0):
        assert low.feed(t, 43.0) == -5.0
    assert low.feed(115.0, 43.0) == 43.0


def test_way_astern_adds_nothing_within_reach_and_never_more_than_its_most() -> None:
    assert stern_bonus_m(1.9, 20.0) == 0.0
    assert stern_bonus_m(3.0, 3.9) == 0.0
    assert stern_bonus_m(3.0, 5.0) == 2.0
    assert stern_bonus_m(3.0, 60.0) == 3.0
    assert stern_bonus_m(30.0, 60.0) == 8.0
