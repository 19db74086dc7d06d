"""Where targets are about: the queue of those that may have strayed stays as long as the set."""

from __future__ import annotations

from shipkeeper.picture.capacity import CAPACITY
from shipkeeper.picture.silence import STALE_LEAST, STALE_SHARE
from shipkeeper.picture.tracks import Targets
from shipkeeper.words.observations import AisReport

A_SECOND = 1000


def hear(targets: Targets, mmsi: int, lat: float, at_s: float) -> None:
    targets.report(AisReport(mmsi, "A", lat, -5.0, 6.0, 0.0, nav_status=0), "ais", at_s)


def test_forged_ones_do_not_stay_in_it_and_a_real_one_does() -> None:
    """Thousands a second that are never heard again, for a minute; a real ship on her way north
    is found where she is by then (reckoned, with no report) and not where she was."""
    targets = Targets()
    for second in range(60):
        lat = 57.0 + second * 6.0 / 111_200.0
        hear(targets, 299_000_001, lat, second + 0.1)
        for n in range(A_SECOND if second >= 20 else 0):
            hear(targets, 299_100_000 + second * A_SECOND + n, 58.0, second + 0.5)
        targets.sweep(second + 1.0)
        assert len(targets._cells) <= (STALE_SHARE + 1) * CAPACITY + STALE_LEAST + A_SECOND
    for second in range(60, 160):
        targets.sweep(second + 1.0)
    here = 57.0 + 160 * 6.0 / 111_200.0
    drift = 500.0 / 111_200.0
    found = {target.mmsi for target in targets._cells.about(here, -5.0, drift, drift)}
    assert 299_000_001 in found
