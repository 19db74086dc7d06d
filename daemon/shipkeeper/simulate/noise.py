"""Normal noise, seeded and quick: a night takes half a million draws.

`random.gauss` costs a third of the whole simulation in plain Python. A draw here picks one of
16,384 evenly spaced quantiles of the normal distribution (so it ends at 4.0 sigma, which coloured
noise never shows).
"""

from collections.abc import Callable
from random import Random
from statistics import NormalDist

_BITS = 14
_QUANTILES = tuple(NormalDist().inv_cdf((i + 0.5) / 2**_BITS) for i in range(2**_BITS))


def normal(seed: int, of_what: str) -> Callable[[], float]:
    """A source of standard normal numbers; each use in a night has its own, by name."""
    bits = Random(f"{seed} {of_what}").getrandbits
    quantiles = _QUANTILES

    def draw() -> float:
        return quantiles[bits(_BITS)]

    return draw
