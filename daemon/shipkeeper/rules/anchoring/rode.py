"""The rode as a hanging chain: how far from the anchor the bow can lie at a given pull.

The common catenary (NAVFAC DM-26.5, Fleet Moorings, 1985; Faltinsen, Sea Loads, 1990; from
memory): with a = H / w the part lifted off the bottom is s = sqrt(h^2 + 2 a h) and spans
a acosh(1 + h / a); what is left over lies on the bottom. When all of it is lifted the chord
is that of a chain whose lower end pulls upwards. Stretch of snubber and rope is added as
compliance times pull.

A mixed rode (chain, then rope) is not solved in two sections: how much of it is chain is not
in the orders. Its reach is bounded from above by the taut triangle with the stretch of rope
and from below by a chain of a third of the weight.
"""

from math import acosh, asinh, sqrt

from .setting import AnchorSetting

_G_BUOYANT = 9.81 * (1.0 - 1025.0 / 7850.0)  # steel in sea water
_SNUBBER_M_PER_N = 1.2e-4  # some 0.1 m for a kilonewton: our choice
_ROPE_EA_PER_MM2 = 480.0  # nylon, N per mm^2 of diameter squared (from memory)
MIXED_WEIGHT_SHARE = 0.15


def chain_weight_n_per_m(size_m: float) -> float:
    """Weight in water of a metre of short-link chain (N/m), link diameter in metres.

    0.0221 kg/m per mm^2 in air is common practice, no source; 8 mm gives 12.07 N/m against
    12.02 in the check values.
    """
    return 0.0221 * (size_m * 1000.0) ** 2 * _G_BUOYANT


def usual_chain_m(length_m: float) -> float:
    """Chain size for a boat of that length (m): 0.7 mm a metre; common practice, no source."""
    return min(max(0.7 * length_m, 6.0), 20.0) / 1000.0


def lifted_m(pull_n: float, weight_n_per_m: float, height_m: float) -> float:
    """Length of chain that a horizontal pull lifts off the bottom (m), if there is so much."""
    return sqrt(height_m * height_m + 2.0 * pull_n / weight_n_per_m * height_m)


def taut_reach_m(length_m: float, height_m: float) -> float:
    """Horizontal distance with the rode a straight line (m); 0 when it does not reach down."""
    square = length_m * length_m - height_m * height_m
    return sqrt(square) if square > 0.0 else 0.0


def reach_m(pull_n: float, length_m: float, weight_n_per_m: float, height_m: float) -> float:
    """Horizontal distance from anchor to bow roller (m), without stretch.

    `height_m` is the roller above the bottom. A rode shorter than the height reaches nowhere.
    """
    if length_m <= height_m:
        return 0.0
    if height_m <= 0.0:
        return length_m
    if pull_n <= 0.0:
        return length_m - height_m
    a = pull_n / weight_n_per_m
    lifted = sqrt(height_m * height_m + 2.0 * a * height_m)
    if lifted <= length_m:
        return length_m - lifted + a * acosh(1.0 + height_m / a)
    chord = sqrt(length_m * length_m - height_m * height_m)
    return 2.0 * a * asinh(chord / (2.0 * a))


def compliance_m_per_n(setting: AnchorSetting) -> float:
    """How much farther the bow lies for each newton of pull: snubber, and rope if there is."""
    if setting.rode_kind != "mixed" or setting.rode_m is None:
        return _SNUBBER_M_PER_N
    rope_mm = min(max(1.25 * setting.length_m, 10.0), 28.0)  # common practice, no source
    return _SNUBBER_M_PER_N + 0.8 * setting.rode_m / (_ROPE_EA_PER_MM2 * rope_mm**2)
