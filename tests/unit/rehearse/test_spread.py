"""One core, several processes, a local Dask cluster: the same transitions, one by one.

The clusters here are real: spawned processes, and `distributed`'s own scheduler and workers on
loopback.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from demo import night
from distributed import LocalCluster

from shipkeeper.app.kinds import KINDS
from shipkeeper.orders import with_value
from shipkeeper.rehearse.compare import compare
from shipkeeper.rehearse.rehearsal import Start
from shipkeeper.rehearse.spread import NoCluster, run_all
from shipkeeper.rehearse.sweep import Swept, tabled
from shipkeeper.rehearse.tasks import Task
from shipkeeper.rehearse.told import Outcome
from shipkeeper.words.orders import Orders

MARGINS = ("4 m", "12 m", "40 m")


def tasks(orders: Orders, path: Path) -> list[Task]:
    start = Start(anchor=night.ANCHOR, rode_m=40.0, depth_m=7.2)
    return [
        Task((path,), with_value(orders, "drag.margin", margin, KINDS), start, path.stat().st_size)
        for margin in MARGINS
    ]


def swept(outcomes: list[Outcome]) -> Swept:
    return tabled("drag.margin", "drag", MARGINS, [[o] for o in outcomes])


@pytest.fixture(scope="module")
def on_one_core(orders: Orders, drag_file: Path) -> list[Outcome]:
    return run_all(tasks(orders, drag_file), jobs=1)


def test_the_sweep_tells_how_early_and_how_far(on_one_core: list[Outcome]) -> None:
    """A wider margin is never earlier and never nearer; the drag is one real event in all."""
    table = swept(on_one_core)
    assert table.events == 1
    assert [s.nuisance for s in table.settings] == [0, 0, 0]
    raised = [s.raised[0] for s in table.settings]
    assert all(at_s is not None for at_s in raised)
    assert raised == sorted(raised, key=lambda t: t or 0.0)
    far = [s.far_m[0] for s in table.settings]
    assert far == sorted(far)
    assert table.recommended == "4 m"
    assert "THIN: only 1 night, only 1 real event" in table.evidence


def test_several_cores_give_the_same(
    on_one_core: list[Outcome], orders: Orders, drag_file: Path
) -> None:
    """Compare and sweep, from two spawned processes; progress grows to the size of the files."""
    said: list[int] = []
    work = tasks(orders, drag_file)
    spread = run_all(work, jobs=2, progress=said.append)
    assert spread == on_one_core
    assert compare(spread[:1], spread[1:2]) == compare(on_one_core[:1], on_one_core[1:2])
    assert swept(spread) == swept(on_one_core)
    assert said == sorted(said)
    assert said[-1] == sum(task.bytes for task in work)


@pytest.mark.filterwarnings("ignore")  # distributed's own, about its event loop and ports
def test_a_dask_cluster_gives_the_same(
    on_one_core: list[Outcome], orders: Orders, drag_file: Path
) -> None:
    """Compare and sweep by way of a scheduler's address, as for a fleet's archive."""
    with LocalCluster(  # type: ignore[no-untyped-call]  # distributed has no types
        n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None, protocol="tcp"
    ) as cluster:
        spread = run_all(tasks(orders, drag_file), jobs=1, fleet=cluster.scheduler_address)
    assert spread == on_one_core
    assert swept(spread) == swept(on_one_core)


@pytest.mark.filterwarnings("ignore")
def test_no_cluster_is_told_in_one_line(orders: Orders, drag_file: Path) -> None:
    """A wrong address is refused, with the address."""
    with pytest.raises(NoCluster, match="no Dask cluster at nonsense://here"):
        run_all(tasks(orders, drag_file), jobs=1, fleet="nonsense://here")
