"""A problem in the orders, and how it is told: file, line, table, key, expected, found."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

Weight = Literal["problem", "warning", "note"]


class Problem(msgspec.Struct, frozen=True):
    """One thing to mend. `where` is the table as a person finds it: 'zone "inner"'.

    A problem refuses the orders. A warning (what is missing and what that costs) makes `check`
    end with 1. A note is only told.
    """

    line: int
    where: str
    key: str
    expected: str
    found: str = ""
    weight: Weight = "problem"

    def told(self, path: str) -> str:
        """'orders.toml:14: zone "inner": confirm: expected a time ...; found 5', one line."""
        key = f" {self.key}:" if self.key else ""
        found = f"; found {self.found}" if self.found else ""
        mark = "" if self.weight == "problem" else f" {self.weight}:"
        return one_line(f"{path}:{self.line}:{mark} {self.where}:{key} {self.expected}{found}")


class BadOrders(Exception):
    """Orders that cannot be used; `problems` has every one of them."""

    def __init__(self, path: str, problems: Sequence[Problem]) -> None:
        self.path = path
        self.problems = in_order(problems)
        super().__init__(told(path, self.problems))


def in_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """As they stand in the file; those of one line stay in the order of finding."""
    return tuple(sorted(problems, key=lambda problem: problem.line))


def told(path: str, problems: Iterable[Problem]) -> str:
    """All problems, a line each, with a last line that counts them."""
    lines = [problem.told(path) for problem in problems]
    count = len(lines)
    lines.append(f"{count} problem{'s' if count != 1 else ''} in {path}. Nothing was changed.")
    return "\n".join(lines)


def is_one_line(text: str) -> bool:
    """No control characters, and no line ends of any sort."""
    return not any(unicodedata.category(letter) in ("Cc", "Zl", "Zp") for letter in text)


def one_line(text: str) -> str:
    """A text from a damaged file must not steer a terminal or forge a line of a log."""
    if is_one_line(text):
        return text
    return "".join(c if is_one_line(c) else f"\\u{ord(c):04x}" for c in text)


def near(word: str, known: Iterable[str]) -> str | None:
    """The known word that was most likely meant, or None."""
    folded = {name.casefold(): name for name in sorted(known, reverse=True)}
    found = difflib.get_close_matches(word.casefold(), sorted(folded), n=1, cutoff=0.6)
    return folded[found[0]] if found else None


def shown(raw: object) -> str:
    """A value as it stands in the file, on one line, cut short; never a secret in a URL."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, str):
        text = hidden(raw) if "://" in raw else msgspec.json.encode(raw).decode()
    elif isinstance(raw, dict):
        text = "{ " + ", ".join(f"{key} = {shown(value)}" for key, value in raw.items()) + " }"
    elif isinstance(raw, list):
        text = "[" + ", ".join(shown(item) for item in raw) + "]"
    else:
        text = str(raw)
    return text if len(text) <= 60 else text[:57] + "..."


def hidden(raw: str) -> str:
    """A text that may be a secret, so only its length is told."""
    return f"a text of {len(raw)} characters, not shown here"
