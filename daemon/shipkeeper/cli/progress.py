"""A progress bar with the time left, on a terminal only; nothing at all into a pipe or a file."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_bar(what: str, total: int) -> Iterator[Callable[[int], None] | None]:
    """Hands over a function that takes how much is done; None when there is nobody to look."""
    if not sys.stderr.isatty():
        yield None
        return
    try:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TaskProgressColumn, TimeRemainingColumn
        from rich.progress import TextColumn as Text
    except ImportError:  # the extra `terminal` is not installed
        yield _plain(what, total)
        _clear()
        return
    columns = (Text(what), BarColumn(), TaskProgressColumn(), TimeRemainingColumn(), Text("left"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=max(1, total))
        yield lambda done: bar.update(task, completed=done)


def _plain(what: str, total: int) -> Callable[[int], None]:
    last = -1

    def tell(done: int) -> None:
        nonlocal last
        share = min(100, 100 * done // max(1, total))
        if share != last:
            last = share
            sys.stderr.write(f"\r{what} {share} %")
            sys.stderr.flush()

    return tell


def _clear() -> None:
    """Leave the line clean for what is printed next."""
    sys.stderr.write("\r\x1b[K")
    sys.stderr.flush()
