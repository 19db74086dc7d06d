"""The published values of tests/data/navigation, by topic."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent.parent / "data" / "navigation"


def rows(name: str, *topics: str) -> list[dict[str, Any]]:
    """Rows of one file whose topic is one of those given; each names its source."""
    with (HERE / f"{name}.json").open(encoding="utf-8") as file:
        found: list[dict[str, Any]] = json.load(file)
    return [row for row in found if row["topic"] in topics]


def ids(row: dict[str, Any]) -> str:
    return str(row["id"])
