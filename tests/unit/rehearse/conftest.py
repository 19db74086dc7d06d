"""A short piece of the demo's night on disk, recorded by two receivers and by none of them."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from demo import night
from demo.sentences import tagged

from shipkeeper.app.kinds import KINDS
from shipkeeper.orders import load
from shipkeeper.words.orders import Orders

FROM, TO = "02:58", "03:14"  # the anchor drags at 03:04


@pytest.fixture(scope="session")
def heard() -> list[night.Heard]:
    return night.night()


@pytest.fixture(scope="session")
def drag_file(heard: list[night.Heard], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A quarter of an hour of the night, with TAG blocks, gzipped."""
    path = tmp_path_factory.mktemp("drag") / "drag.nmea.gz"
    a, b = (night.START + night.at(clock) for clock in (FROM, TO))
    with gzip.open(path, "wt", compresslevel=1) as file:
        for one in heard:
            if a <= one.utc_s < b:
                file.write(tagged(one.sentence, one.wire, one.utc_s) + "\n")
    return path


@pytest.fixture(scope="session")
def orders_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's own orders without inputs and outlets."""
    text = (Path(night.__file__).parent / "orders.toml").read_text()
    head, _, rest = text.partition("[[input]]")
    rules = rest[rest.index("[[zone]]") : rest.index("[[outlet]]")]
    path = tmp_path_factory.mktemp("orders") / "orders.toml"
    path.write_text(head + rules)
    return path


@pytest.fixture(scope="session")
def orders(orders_file: Path) -> Orders:
    return load(orders_file, KINDS)
