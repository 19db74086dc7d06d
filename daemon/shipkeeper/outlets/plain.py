"""Text from the air made fit to show: no control characters, no terminal escapes."""

from __future__ import annotations


def one_line(text: str) -> str:
    """All that cannot be printed becomes a space: line ends, escapes, and the marks that turn
    the direction of text or hide in it."""
    return "".join(c if c.isprintable() else " " for c in text)


def lines(text: str) -> str:
    """The same, but line ends stay."""
    return "\n".join(one_line(line) for line in text.split("\n"))
