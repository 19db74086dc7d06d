"""For all unit tests: a store that a test opened is closed when it ends.

Python 3.13 (Debian 13) warns of a database that is let go open, and a warning is an error here.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from shipkeeper.store import Store


@pytest.fixture(autouse=True)
def _stores_are_closed(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    opened: list[Store] = []
    really = Store.open

    def noted(*args: Any, **named: Any) -> Store:
        opened.append(really(*args, **named))
        return opened[-1]

    monkeypatch.setattr(Store, "open", staticmethod(noted))
    yield
    for store in opened:
        store.close()
