"""The rode against outside values: solver rows, worked catenaries, the taut triangle."""

from math import sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipkeeper.simulate.plan import Rode
from shipkeeper.simulate.rode import RodeTable, chain_weight_n_per_m, compliance_m_per_n, hang

# MoorPy 1.3.0, a quasi-static mooring solver, no seabed friction, inextensible line: weight N/m,
# height m, horizontal pull N, chain m -> on the bottom m, anchor to bow m. Computed outside.
MOORPY = [
    (12.0, 6.0, 1500.0, 60.0, 20.8082, 59.3847),
    (12.0, 11.0, 1500.0, 60.0, 6.4183, 58.4816),
    (19.0, 4.0, 500.0, 40.0, 24.9492, 39.281),
    (19.0, 11.0, 4000.0, 80.0, 11.061, 78.8239),
]

# Closed form s = sqrt(h^2 + 2 h H / w), x = H / w acosh(1 + h w / H) with chain just lifted:
# weight, height, pull -> chain m, reach m. Computed outside; the form is that of NAVFAC DM-26.5.
JUST_LIFTED = [
    (12.0219, 4.0, 500.0, 18.674, 18.098),
    (12.0219, 6.0, 1500.0, 39.157, 38.541),
    (19.1839, 11.0, 4000.0, 68.616, 67.435),
]


def chain(weight_n_per_m: float, length_m: float) -> Rode:
    """All chain, of a size that has this weight in water."""
    size = sqrt(weight_n_per_m / 0.19)
    return Rode(length_m=length_m, entered_m=length_m, chain_m=length_m, chain_mm=size)


@pytest.mark.parametrize(("weight", "height", "pull", "length", "lying", "reach"), MOORPY)
def test_reach_is_that_of_a_mooring_solver(
    weight: float, height: float, pull: float, length: float, lying: float, reach: float
) -> None:
    """Reach and length on the bottom are within a centimetre of the solver's."""
    got_reach, got_lying = hang(chain(weight, length), height, pull)
    assert got_reach == pytest.approx(reach, abs=0.01)
    assert got_lying == pytest.approx(lying, abs=0.01)


@pytest.mark.parametrize(("weight", "height", "pull", "length", "reach"), JUST_LIFTED)
def test_chain_that_is_just_lifted(
    weight: float, height: float, pull: float, length: float, reach: float
) -> None:
    """With exactly the least chain none lies on the bottom and the reach is the published one."""
    got_reach, got_lying = hang(chain(weight, length), height, pull)
    assert got_reach == pytest.approx(reach, abs=0.01)
    assert got_lying == pytest.approx(0.0, abs=0.01)


def test_chain_weights_are_those_of_the_trade() -> None:
    """8 and 10 mm chain weigh 12.02 and 19.18 N/m in water (catalogue mass x g x 0.87)."""
    assert chain_weight_n_per_m(8.0) == pytest.approx(12.02, rel=0.02)
    assert chain_weight_n_per_m(10.0) == pytest.approx(19.18, rel=0.02)


@given(
    length=st.floats(15, 110),
    share=st.floats(0.1, 1.0),
    height=st.floats(2, 12),
    pull=st.floats(0.6, 50_000),
)
@settings(deadline=None)
def test_the_bow_is_never_farther_than_the_taut_triangle(
    length: float, share: float, height: float, pull: float
) -> None:
    """Without stretch the reach stays inside sqrt(L^2 - h^2) and grows with the pull."""
    rode = Rode(length_m=length, entered_m=length, chain_m=share * length)
    reach, lying = hang(rode, height, pull)
    assert reach <= sqrt(length**2 - height**2) + 1e-3
    assert 0.0 <= lying <= length
    assert hang(rode, height, pull * 1.5)[0] >= reach - 1e-3


@given(pull=st.floats(1.0, 30_000), height=st.floats(4.0, 7.0), share=st.floats(0.2, 1.0))
@settings(max_examples=40, deadline=None)  # each example builds a table
def test_the_table_says_what_the_catenary_says(pull: float, height: float, share: float) -> None:
    """Between entries the table is within 12 cm of the reach, and finds the pull back."""
    rode = Rode(length_m=45.0, entered_m=45.0, chain_m=45.0 * share)
    table = RodeTable(rode, 4.0, 7.0)
    table.at_height(height)
    reach = table.reach_m(pull)
    exact = hang(rode, height, pull)[0] + compliance_m_per_n(rode) * pull
    assert reach == pytest.approx(exact, abs=0.12)
    assert table.pull_n(reach) == pytest.approx(pull, rel=0.01, abs=0.5)


def test_a_slack_rode_does_not_pull() -> None:
    """With the bow over the anchor there is no pull and all but the hanging chain lies."""
    rode = Rode(length_m=40.0, entered_m=40.0, chain_m=40.0)
    table = RodeTable(rode, 7.0, 7.0)
    assert table.pull_n(3.0) == 0.0
    assert table.lying_m(3.0) == pytest.approx(33.0, abs=1.0)
