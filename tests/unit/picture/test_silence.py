"""The queue of silent targets, against a look at every one of them each second."""

from __future__ import annotations

import random

import pytest

from shipkeeper.picture.reporting import is_lost
from shipkeeper.picture.targets import DROP_AFTER_S
from shipkeeper.picture.tracks import Targets
from shipkeeper.words.geo import LatLon
from shipkeeper.words.observations import AisReport, AisStatic, AisText, RadarEcho

OWN = LatLon(57.1, -5.2)


def hear(targets: Targets, rng: random.Random, at_s: float) -> None:
    mmsi = 299000000 + rng.randrange(60)
    sort = rng.random()
    if sort < 0.7:
        speed, status = rng.choice([0.0, 3.0, 12.0]), rng.choice([0, 1, None])
        lat = 57.0 + 0.001 * (mmsi % 60)
        station = rng.choice(["A", "B"])
        targets.report(AisReport(mmsi, station, lat, -5.0, speed, 90.0, nav_status=status),
                       "ais", at_s)  # fmt: skip
    elif sort < 0.8:
        targets.static(AisStatic(mmsi, "NAME", to_stern_m=20.0), "ais", at_s)
    elif sort < 0.85:
        targets.said(AisText(mmsi, "TEST"), "ais", at_s)
    else:
        says = rng.choice(["tracking", "tracking", "tracking", "lost"])
        echo = RadarEcho(rng.randrange(9), 900.0, rng.uniform(0, 360), False, 2.0, 10.0, False,
                         says)  # type: ignore[arg-type]  # one of the three words  # fmt: skip
        targets.echo(echo, "radar", at_s, own_place=OWN, heading_deg=0.0, own_velocity=(0.0, 0.0))


@pytest.mark.parametrize("seed", [1, 2])
def test_nobody_is_lost_or_dropped_late_or_early(seed: int) -> None:
    rng = random.Random(seed)
    targets = Targets()
    lost_seen = dropped = 0
    for second in range(1, 6000):
        for _ in range(rng.choice([0, 0, 1, 3]) if second < 3600 else 0):
            hear(targets, rng, second - 0.5)
        now_s = float(second)
        before = {target.key: target.lost for target in targets}
        old = {t.key for t in targets if now_s - t.last_s > DROP_AFTER_S}
        expected = {t.key: t.lost or is_lost(t, now_s) for t in targets if t.key not in old}
        targets.sweep(now_s)
        assert {target.key: target.lost for target in targets} == expected
        lost_seen += sum(expected[key] and not before[key] for key in expected)
        dropped += len(old)
    assert not len(targets)
    assert lost_seen > 100
    assert dropped > 60
