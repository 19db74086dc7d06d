"""Which line of the file a table or a key stands on. TOML parsers do not say.

A scan of headers and keys, enough to point a person to the place: array tables are counted,
keys of inline tables and of arrays over several lines are found on the line of their key.
"""

from __future__ import annotations

import re

_HEADER = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.\-\"' ]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"\s*(?:\"([^\"]+)\"|'([^']+)'|([A-Za-z0-9_\-]+))\s*(?:\.[^=]*)?=")


class Lines:
    """Line numbers by table (name, index) and key."""

    def __init__(self, text: str) -> None:
        self._tables: dict[tuple[str, int], int] = {}
        self._keys: dict[tuple[str, int, str], int] = {}
        counts: dict[str, int] = {}
        table, index = "", 0
        depth = 0
        for number, line in enumerate(text.splitlines(), start=1):
            if depth <= 0:
                header = _HEADER.match(line)
                if header is not None:
                    table = header[2].strip("\"' ")
                    index = counts.get(table, 0)
                    counts[table] = index + 1
                    self._tables[(table, index)] = number
                    continue
                key = _KEY.match(line)
                if key is not None:
                    name = key[1] or key[2] or key[3]
                    self._keys.setdefault((table, index, name), number)
            depth += _opened(line)

    def table(self, name: str, index: int = 0) -> int:
        """Line of the n-th header of that name; 1 when it has none of its own."""
        return self._tables.get((name, index), 1)

    def key(self, name: str, index: int, key: str) -> int:
        return self._keys.get((name, index, key.split(".")[0]), self.table(name, index))


def _opened(line: str) -> int:
    """Brackets opened less brackets closed on a line, outside strings and comments."""
    bare = re.sub(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'", "", line).partition("#")[0]
    return bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}")
