"""Messages in several sentences, put together: out of order, interleaved, from several
receivers, with parts lost.

Nothing but a sequence digit ties the parts together. So when a part comes that is already
held with other contents, one of the two is of another message and nobody can say which:
both are dropped, and what comes under that digit for a moment too. A name that is six
minutes late is better than one ship's name with another ship's size.
"""

from __future__ import annotations

WAIT_S = 3.0  # a message's parts come within milliseconds; slow wires and relays add to it
MOST_GROUPS = 64

Key = tuple[str, str | None, bytes, bytes, bytes, int]


class _Group:
    __slots__ = ("fill", "have", "mixed", "parts", "since_s")

    def __init__(self, total: int, at_s: float) -> None:
        self.parts: list[bytes | None] = [None] * total
        self.have = 0
        self.fill = 0
        self.since_s = at_s
        self.mixed = False


class Parts:
    """Holds what waits for its other parts, at most MOST_GROUPS messages."""

    __slots__ = ("_groups",)

    def __init__(self) -> None:
        self._groups: dict[Key, _Group] = {}

    def __len__(self) -> int:
        return len(self._groups)

    def add(
        self, key: Key, at_s: float, number: int, payload: bytes, fill: int
    ) -> tuple[bytes, int] | str | None:
        """The whole payload and its fill bits when complete, None while parts lack, or why
        it was dropped.

        `key` says what belongs together; its last item is the number of parts. `number`
        counts from 1.
        """
        group = self._groups.get(key)
        if group is not None and not 0.0 <= at_s - group.since_s <= WAIT_S:
            del self._groups[key]
            group = None
        if group is None:
            self._make_room(at_s)
            group = self._groups[key] = _Group(key[5], at_s)
        if group.mixed:
            return "parts of two messages under one number"
        held = group.parts[number - 1]
        if held is not None:
            if held == payload:
                return None
            group.mixed, group.since_s, group.parts = True, at_s, []
            return "parts of two messages under one number"
        group.parts[number - 1] = payload
        group.have += 1
        group.fill |= fill  # only the last part has any
        if group.have < key[5]:
            return None
        del self._groups[key]
        return b"".join(part for part in group.parts if part is not None), group.fill

    def _make_room(self, at_s: float) -> None:
        if len(self._groups) < MOST_GROUPS:
            return
        for key in [k for k, g in self._groups.items() if at_s - g.since_s > WAIT_S]:
            del self._groups[key]
        while len(self._groups) >= MOST_GROUPS:
            del self._groups[next(iter(self._groups))]
