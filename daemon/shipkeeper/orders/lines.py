"""Which line of the file a table or a key stands on. TOML parsers do not say.

A scan of the tokens of a text that the parser has already taken: headers are counted, keys
and the items of arrays remembered with their line. What is not found is on the line of what
holds it, so every path has a line.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import msgspec
import tomli

Path = tuple[str | int, ...]

_TOKEN = re.compile(
    r'''(?P<string>"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?'{3,5}|"(?:\\.|[^"\\\n])*"|'[^'\n]*')'''
    r"""|(?P<comment>\#[^\n]*)|(?P<newline>\n)|(?P<mark>[\[\]{},=.])"""
    r"""|(?P<bare>[^\s\#\[\]{},=."']+)|(?P<other>.)""",
    re.DOTALL,
)


class _Holder(msgspec.Struct):
    """An open bracket: an array (with the index of its item) or an inline table."""

    path: Path
    is_array: bool
    index: int = 0
    key: Path = ()  # of the pair being read in an inline table
    in_value: bool = False


class Lines:
    """Line numbers by path: ("zone", 0, "ring", "to"). Arrays of tables count from 0."""

    def __init__(self, text: str) -> None:
        self._lines: dict[Path, int] = {}
        self._arrays: dict[Path, int] = {}  # [[...]] headers seen
        self._table: Path = ()
        self._holders: list[_Holder] = []
        self._key: Path = ()  # of the statement being read, until its '='
        self._in_value = False
        self._header: list[str | int] | None = None
        self._brackets = 0
        self._line = 1
        for match in _TOKEN.finditer(text):
            kind, token = str(match.lastgroup), match.group()
            if kind not in ("comment", "other"):
                self._take(kind, token)
            self._line += token.count("\n")

    def of(self, path: Sequence[str | int]) -> int:
        """The line of a path, or of the nearest thing that holds it; 1 for the whole file."""
        for length in range(len(path), 0, -1):
            line = self._lines.get(tuple(path[:length]))
            if line is not None:
                return line
        return 1

    def _take(self, kind: str, token: str) -> None:
        if self._holders:
            self._inside(self._holders[-1], kind, token)
        elif kind == "newline":
            self._end_statement()
        elif self._header is not None:
            self._in_header(kind, token)
        elif self._in_value:
            self._open(token, self._table + self._key)
        elif kind == "mark" and token == "[" and not self._key:
            self._header, self._brackets = [], 1
        elif kind == "mark" and token == "=":
            self._found(self._table, self._key)
            self._in_value = True
        elif kind in ("string", "bare"):
            self._key += (_plain(kind, token),)

    def _end_statement(self) -> None:
        self._key, self._in_value, self._header = (), False, None

    def _in_header(self, kind: str, token: str) -> None:
        header = self._header if self._header is not None else []
        if token == "[" and not header:
            self._brackets += 1
        elif kind in ("string", "bare"):
            header.append(_plain(kind, token))
        elif token == "]" and header:
            self._table = self._enter(header)
            self._lines.setdefault(self._table, self._line)
            self._header = []

    def _enter(self, header: list[str | int]) -> Path:
        """The path of a header: [a.b] goes into the last item of an array [[a]]."""
        path: Path = ()
        for place, part in enumerate(header):
            path += (part,)
            last = place == len(header) - 1
            if last and self._brackets > 1:
                self._arrays[path] = self._arrays.get(path, -1) + 1
            if path in self._arrays:
                self._lines.setdefault(path, self._line)
                path += (self._arrays[path],)
        return path

    def _inside(self, holder: _Holder, kind: str, token: str) -> None:
        if kind == "newline":
            return
        if token in ("]", "}"):
            self._holders.pop()
        elif token == ",":
            holder.index += 1
            holder.key, holder.in_value = (), False
        elif holder.is_array:
            path = (*holder.path, holder.index)
            self._lines.setdefault(path, self._line)
            self._open(token, path)
        elif holder.in_value:
            self._open(token, holder.path + holder.key)
        elif token == "=":
            self._found(holder.path, holder.key)
            holder.in_value = True
        elif kind in ("string", "bare"):
            holder.key += (_plain(kind, token),)

    def _open(self, token: str, path: Path) -> None:
        if token in ("[", "{"):
            self._holders.append(_Holder(path, token == "["))

    def _found(self, table: Path, key: Path) -> None:
        for length in range(1, len(key) + 1):
            self._lines.setdefault(table + key[:length], self._line)


def _plain(kind: str, token: str) -> str:
    """A key without its quotes."""
    if kind == "bare":
        return token
    try:
        return str(tomli.loads(f"key = {token}")["key"])
    except tomli.TOMLDecodeError:
        return token
