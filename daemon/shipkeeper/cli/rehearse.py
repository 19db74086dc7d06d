"""`shipkeeper rehearse`: what these orders would have done over recorded nights."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from ..app.kinds import KINDS
from ..orders import BadKey, find_rule, with_value
from ..rehearse import expect
from ..rehearse.compare import compare
from ..rehearse.load import load_figures
from ..rehearse.passages import Passage
from ..rehearse.rehearsal import Start
from ..rehearse.spread import NoCluster, cores, run_all
from ..rehearse.sweep import tabled
from ..rehearse.tasks import Task
from ..rehearse.told import Outcome
from ..words.orders import Orders
from . import rehearsed
from .progress import progress_bar
from .recordings import REFUSED, beginning, opened, orders_for, start, tell_unwatched
from .sweeping import swept_values


@click.command()
@click.argument("recordings", nargs=-1, required=True, type=click.Path(path_type=Path))
@beginning
@click.option("--compare", "other", default=None, type=click.Path(path_type=Path),
              metavar="OTHER.toml",
              help="What would have changed under these other orders.")  # fmt: skip
@click.option("--sweep", default=None, metavar="KEY=FROM..TO",
              help="One key at several values: drag.margin=5m..30m (..30m/11 for eleven); a rule "
                   "by its name: inner-guard-zone.ring.to=0.1NM..0.3NM")  # fmt: skip
@click.option("--expect", "expected", default=None, type=click.Path(path_type=Path),
              metavar="FILE.toml",
              help="Expectations to be kept; a broken one makes the exit code 1.")  # fmt: skip
@click.option("--cores", "jobs", default=None, type=click.IntRange(min=1),
              help="Processor cores to use; default all.")  # fmt: skip
@click.option("--fleet", default=None, metavar="ADDRESS",
              help="Run on a Dask cluster (tcp://host:port) that sees the same files.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line.")
def rehearse(
    recordings: tuple[Path, ...],
    orders_path: Path | None,
    anchor: str | None,
    rode: str | None,
    depth: str | None,
    rise: str | None,
    set_at: str | None,
    watch: str | None,
    other: Path | None,
    sweep: str | None,
    expected: Path | None,
    jobs: int | None,
    fleet: str | None,
    as_json: bool,
) -> None:
    """Run the orders over RECORDINGS, without outlets: what would have been raised?

    RECORDINGS are files or folders: plain, with TAG blocks, gzipped. Files of several receivers
    of one night are put together; nights apart are run for themselves, on all cores.
    """
    if other is not None and sweep is not None:
        raise click.UsageError("--compare and --sweep: expected only one of them")
    begun = start(anchor, rode, depth, rise, set_at, watch)
    expectations = _expectations(expected)
    found = opened(recordings)
    orders = [orders_for(orders_path, passage.header) for passage in found]
    runner = _Runner(found, begun, jobs or cores(), fleet)
    say = rehearsed.Json() if as_json else rehearsed.Text()
    names = [path.name for path in recordings]
    if sweep is not None:
        say.swept(*_sweep(sweep, orders, runner, expectations), names)
        return
    if other is not None:
        second = [orders_for(other, None)] * len(found)
        before, after = runner.run([orders, second])
        figures = [load_figures(before, orders[0]), load_figures(after, second[0])]
        say.compared(compare(before, after), figures, names)
        return
    (outcomes,) = runner.run([orders])
    kept = expect.check(expectations, outcomes)
    say.night(outcomes, load_figures(outcomes, orders[0]), kept, names)
    if not all(one.kept for one in kept) or any(one.not_watched for one in outcomes):
        raise SystemExit(1)


class _Runner:
    """Runs every passage under one or several sets of orders."""

    def __init__(
        self, found: Sequence[Passage], begun: Start, jobs: int, fleet: str | None
    ) -> None:
        self.found, self.begun, self.jobs, self.fleet = found, begun, jobs, fleet

    def run(self, sets: Sequence[Sequence[Orders]]) -> list[list[Outcome]]:
        """For each set (the orders of every passage) the outcomes of all passages."""
        tasks = [
            Task(passage.paths, passage.fitted(orders), self.begun, passage.bytes)
            for orders_set in sets
            for passage, orders in zip(self.found, orders_set, strict=True)
        ]
        try:
            with progress_bar("rehearsing", sum(task.bytes for task in tasks)) as progress:
                flat = run_all(tasks, jobs=self.jobs, fleet=self.fleet, progress=progress)
        except NoCluster as refused:
            click.echo(str(refused), err=True)
            raise SystemExit(REFUSED) from None
        except OSError as error:
            click.echo(f"{error.filename or 'recording'}: {error.strerror}", err=True)
            raise SystemExit(REFUSED) from None
        tell_unwatched(flat)
        width = len(self.found)
        return [flat[i : i + width] for i in range(0, len(flat), width)]


def _sweep(
    text: str,
    orders: Sequence[Orders],
    runner: _Runner,
    expectations: Sequence[expect.Expectation],
) -> tuple[rehearsed.Swept, list[list[Outcome]]]:
    key, values = swept_values(text)
    try:
        rule, _ = find_rule(orders[0], key)
        sets = [[with_value(one, key, value, KINDS) for one in orders] for value in values]
    except BadKey as bad:
        click.echo(f"--sweep {bad}", err=True)
        raise SystemExit(REFUSED) from None
    runs = runner.run(sets)
    return tabled(key, rule, [str(v) for v in values], runs, expectations), runs


def _expectations(path: Path | None) -> list[expect.Expectation]:
    if path is None:
        return []
    try:
        return expect.read_expectations(path)
    except expect.BadExpectations as bad:
        click.echo(str(bad), err=True)
        raise SystemExit(REFUSED) from None
