"""Tasks run on one core, on all cores, or on a Dask cluster: the same results, in order.

Workers share nothing with each other, and what a task gives does not depend on where it ran.
Between processes progress goes through a row of shared numbers, one a task; a cluster tells
only which tasks are done.
"""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, ProcessPoolExecutor, wait
from typing import Any

from .tasks import Task, perform
from .told import Outcome

LOOK_EVERY_S = 0.2
Progress = Callable[[int], None]  # bytes of recordings read, over all tasks

_shared: Any = None  # in a worker process: the row of numbers


class NoCluster(Exception):
    """The cluster cannot be used; the text says why."""


def cores() -> int:
    """Those that this process may use."""
    return len(os.sched_getaffinity(0))


def run_all(
    tasks: Sequence[Task],
    *,
    jobs: int,
    fleet: str | None = None,
    progress: Progress | None = None,
) -> list[Outcome]:
    """Outcomes in the order of the tasks. What one of them raises is raised here."""
    if fleet is not None:
        return _on_cluster(tasks, fleet, progress)
    if jobs <= 1 or len(tasks) <= 1:
        return _here(tasks, progress)
    context = multiprocessing.get_context("spawn")
    row = context.Array("q", len(tasks), lock=False)
    with ProcessPoolExecutor(
        min(jobs, len(tasks)), mp_context=context, initializer=_take_row, initargs=(row,)
    ) as pool:
        return _gather(
            pool, _perform_counted, list(enumerate(tasks)), progress, lambda done: sum(row)
        )


def _here(tasks: Sequence[Task], progress: Progress | None) -> list[Outcome]:
    outcomes, before = [], 0
    for task in tasks:
        outcomes.append(perform(task, None if progress is None else _from(before, progress)))
        before += task.bytes
    return outcomes


def _from(before: int, progress: Progress) -> Progress:
    return lambda read: progress(before + read)


def _on_cluster(tasks: Sequence[Task], address: str, progress: Progress | None) -> list[Outcome]:
    try:
        from distributed import Client
    except ImportError:
        raise NoCluster(
            "--fleet needs the extra `fleet`: pip install 'shipkeeper[fleet]'"
        ) from None
    try:
        client = Client(address, timeout=15, set_as_default=False)  # type: ignore[no-untyped-call]  # distributed has no types
    except (OSError, ValueError) as error:
        raise NoCluster(f"no Dask cluster at {address}: {error}") from None
    with client:
        pool = client.get_executor(pure=False)  # type: ignore[no-untyped-call]  # distributed has no types
        return _gather(
            pool, perform, [(task,) for task in tasks], progress,
            lambda done: sum(tasks[i].bytes for i in done),
        )  # fmt: skip


def _gather(
    pool: Executor,
    work: Callable[..., Outcome],
    arguments: Sequence[tuple[Any, ...]],
    progress: Progress | None,
    read: Callable[[set[int]], int],
) -> list[Outcome]:
    numbers = {pool.submit(work, *given): i for i, given in enumerate(arguments)}
    outcomes: dict[int, Outcome] = {}
    waiting = set(numbers)
    try:
        while waiting:
            done, waiting = wait(waiting, timeout=LOOK_EVERY_S, return_when=FIRST_COMPLETED)
            for future in done:
                outcomes[numbers[future]] = future.result()
            if progress is not None:
                progress(read(set(outcomes)))
    finally:
        for future in waiting:
            future.cancel()
    return [outcomes[i] for i in range(len(arguments))]


def _take_row(row: Any) -> None:
    global _shared  # how a pool hands its workers what cannot be pickled
    _shared = row


def _perform_counted(number: int, task: Task) -> Outcome:
    def tell(read: int) -> None:
        _shared[number] = read

    return perform(task, tell)
