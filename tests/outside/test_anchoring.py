"""Anchor mathematics against published figures: catenary, swing, wind load, GNSS error."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from shipkeeper.rules.anchoring.rode import (
    chain_weight_n_per_m,
    lifted_m,
    reach_m,
    taut_reach_m,
)
from shipkeeper.rules.anchoring.windage import design_load_n
from shipkeeper.simulate import random_plan, simulate

LB_N, FT_M = 4.448222, 0.3048

# Half of a symmetric cable is a chain that just lifts off the bottom at its lowest point.
WORKED = [
    # name, pull, weight a length, half length, sag, half span, tolerance (all in its own units)
    # Beer & Johnston, Vector Mechanics for Engineers: Statics, catenary sample problem (500 ft
    # span, 100 ft sag; c = 328, half length 275); from memory, reproduced.
    ("beer-johnston", 327.93 * 3, 3.0, 274.93, 100.0, 250.0, 0.2),
    # Meriam & Kraige, Engineering Mechanics: Statics, cable of 12 kg/m over 300 m, sag 60 m
    # (T0 23.2 kN, length 330 m); from memory, reproduced.
    ("meriam-kraige", 23_160.0, 117.72, 164.95, 60.0, 150.0, 0.1),
    # University course sheet, 625 ft of 2 lb/ft with 25 ft sag: span 622.33 ft; read in source.
    ("625 ft", 1940.625 * 2, 2.0, 312.5, 25.0, 622.33 / 2, 0.02),
    # Beer & Johnston, Statics, problem 7.128: 500 ft of 2.8 lb/ft, sag 125 ft: span 412 ft.
    ("beer 7.128", 187.5 * 2.8, 2.8, 250.0, 125.0, 411.98 / 2, 0.02),
]


@pytest.mark.parametrize("name,pull,weight,length,sag,span,within", WORKED, ids=lambda v: str(v))
def test_worked_examples_of_statics_books(
    name: str, pull: float, weight: float, length: float, sag: float, span: float, within: float
) -> None:
    assert lifted_m(pull, weight, sag) == pytest.approx(length, rel=1e-3), name
    assert reach_m(pull, length, weight, sag) == pytest.approx(span, abs=within)


# Small-craft table of the project's check values, computed from the formulas of NAVFAC DM-26.5
# (Fleet Moorings, 1985; from memory): weight N/m, height m, pull N, chain that is lifted, reach.
SMALL_CRAFT = [
    (12.0219, 4.0, 500.0, 18.674, 18.098),
    (12.0219, 6.0, 500.0, 23.132, 22.080),
    (12.0219, 6.0, 1500.0, 39.157, 38.541),
    (12.0219, 11.0, 1500.0, 53.535, 52.015),
    (12.0219, 11.0, 4000.0, 86.261, 85.323),
    (19.1839, 4.0, 500.0, 14.984, 14.261),
    (19.1839, 6.0, 1500.0, 31.214, 30.439),
    (19.1839, 11.0, 4000.0, 68.616, 67.435),
]


@pytest.mark.parametrize("weight,height,pull,chain,reach", SMALL_CRAFT)
def test_chain_that_is_just_lifted(
    weight: float, height: float, pull: float, chain: float, reach: float
) -> None:
    assert lifted_m(pull, weight, height) == pytest.approx(chain, abs=2e-3)
    assert reach_m(pull, chain, weight, height) == pytest.approx(reach, abs=2e-3)


# Solver: MoorPy 1.3.0 (NREL), line partly on the bottom, without stretch.
MOORPY = [
    (12.0, 6.0, 1500.0, 60.0, 59.3847),
    (12.0, 11.0, 1500.0, 60.0, 58.4816),
    (19.0, 4.0, 500.0, 40.0, 39.281),
    (19.0, 11.0, 4000.0, 80.0, 78.8239),
]


@pytest.mark.parametrize("weight,height,pull,length,reach", MOORPY)
def test_chain_partly_on_the_bottom_as_a_solver_has_it(
    weight: float, height: float, pull: float, length: float, reach: float
) -> None:
    assert reach_m(pull, length, weight, height) == pytest.approx(reach, abs=1e-3)


def test_a_deep_mooring_line_that_is_lifted_whole() -> None:
    """NREL OC3-Hywind line (NREL/TP-500-47535, 2010, from memory; forces by MoorPy 1.3.0):
    902.2 m over 250 m, 848.67 m out; stretch H L / EA is added by hand."""
    pull, length, stiffness = 736_938.0, 902.2, 384_243_000.0
    reach = reach_m(pull, length, 698.094, 250.0) + pull * length / stiffness
    assert reach == pytest.approx(853.87 - 5.2, abs=1.0)


# Right triangles: rode, depth with roller, roller to antenna -> radius of the antenna (computed).
SWING = [
    (30.0, 7.5, 0.0, 29.047), (30.0, 7.5, 9.5, 38.547), (50.0, 11.0, 0.0, 48.775),
    (50.0, 11.0, 9.5, 58.275), (20.0, 4.2, 0.0, 19.554), (20.0, 4.2, 9.5, 29.054),
]  # fmt: skip


@pytest.mark.parametrize("rode,height,lever,radius", SWING)
def test_swing_circle(rode: float, height: float, lever: float, radius: float) -> None:
    assert taut_reach_m(rode, height) + lever == pytest.approx(radius, abs=1e-3)
    # The catenary never reaches farther than the taut triangle.
    for pull in (50.0, 500.0, 5_000.0, 50_000.0):
        assert reach_m(pull, rode, 12.0, height) <= taut_reach_m(rode, height) + 1e-6


def test_weight_of_chain() -> None:
    """8 mm and 10 mm: 12.02 and 19.18 N/m in sea water in the check values (computed)."""
    assert chain_weight_n_per_m(0.008) == pytest.approx(12.0219, rel=0.02)
    assert chain_weight_n_per_m(0.010) == pytest.approx(19.1839, rel=0.03)


# ABYC H-40 Table 1 (15 and 30 kn rows read in reprints, 60 kn from memory): ft -> lb.
ABYC = {
    15.0: (90, 125, 175, 225, 300, 400, 500),
    30.0: (360, 490, 700, 900, 1200, 1600, 2000),
    60.0: (1440, 1960, 2800, 3600, 4800, 6400, 8000),
}
FEET = (20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0)


@pytest.mark.parametrize("knots", ABYC)
def test_wind_load_of_the_table(knots: float) -> None:
    for feet, pounds in zip(FEET, ABYC[knots], strict=True):
        load = design_load_n(feet * FT_M, knots * 1852 / 3600)
        assert load / LB_N == pytest.approx(pounds, rel=0.03)  # 125 against 122.5 at 25 ft, 15 kn


def test_load_grows_with_size_and_with_the_square_of_the_wind() -> None:
    loads = [design_load_n(length, 10.0) for length in (4.0, 6.0, 9.0, 12.0, 15.0, 20.0)]
    assert all(a < b for a, b in pairwise(loads))
    assert design_load_n(11.0, 20.0) == pytest.approx(4 * design_load_n(11.0, 10.0))


def test_simulated_receivers_err_as_a_circular_normal_does() -> None:
    """R95 = 1.731 drms, CEP = 0.8326 drms for equal axes (Rayleigh distribution). The simulator's
    errors of many nights together, each scaled by its own drms, must keep to that."""
    scaled = []
    for seed in range(60):
        plan = random_plan(seed, "none", gnss_class="fine", duration_s=1200.0, rate_hz=0.1)
        errors = [
            (s.fix_x_m - s.antenna_x_m, s.fix_y_m - s.antenna_y_m)
            for s in simulate(plan)
            if s.fix_x_m is not None and s.fix_y_m is not None
        ]
        scaled += [math.hypot(x, y) / plan.gnss.sigma_m for x, y in errors]
    radial = np.array(scaled)
    drms = float(np.sqrt(np.mean(radial**2)))
    assert float(np.quantile(radial, 0.95)) / drms == pytest.approx(1.731, rel=0.12)
    assert float(np.quantile(radial, 0.50)) / drms == pytest.approx(0.8326, rel=0.12)
