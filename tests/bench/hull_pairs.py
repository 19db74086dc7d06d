"""Hull to hull against shapely over 10,000 random pairs: prints the worst difference.

Run: PYTHONPATH=daemon:. python -m tests.bench.hull_pairs. What must hold: within 5 m.
"""

from __future__ import annotations

from tests.unit.picture.test_outline import worst_of_random_pairs


def main() -> None:
    print(f"10,000 pairs, worst difference {worst_of_random_pairs(10_000, seed=1):.6f} m")


if __name__ == "__main__":
    main()
