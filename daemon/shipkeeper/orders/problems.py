"""A problem in the orders, and how it is told: file, line, table, key, what was expected."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence

import msgspec


class Problem(msgspec.Struct, frozen=True):
    """One thing to mend. `where` is the table as a person finds it: 'zone "inner"'."""

    line: int
    where: str
    key: str
    expected: str

    def told(self, path: str) -> str:
        key = f" {self.key}:" if self.key else ""
        return f"{path}:{self.line}: {self.where}:{key} {self.expected}"


class BadOrders(Exception):
    """Orders that cannot be used; `problems` has every one of them."""

    def __init__(self, path: str, problems: Sequence[Problem]) -> None:
        self.path = path
        self.problems = tuple(sorted(problems, key=lambda p: (p.line, p.where, p.key)))
        super().__init__(told(path, self.problems))


def told(path: str, problems: Iterable[Problem]) -> str:
    """All problems, a line each, with a last line that counts them."""
    lines = [problem.told(path) for problem in problems]
    count = len(lines)
    lines.append(f"{count} problem{'s' if count != 1 else ''} in {path}. Nothing was changed.")
    return "\n".join(lines)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """'. Did you mean "radius"?', or what is known, when nothing is near."""
    known = sorted(known)
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if near:
        return f'. Did you mean "{near[0]}"?'
    return f"; known here: {', '.join(known)}" if known else ""
