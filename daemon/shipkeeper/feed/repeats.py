"""One report heard by two receivers: the second hearing is dropped, by payload and stamp."""

from __future__ import annotations

SAME_WITHIN_S = 3.0
MOST = 4096


class Repeats:
    """Payloads of the last few seconds, in two generations so that forgetting is free."""

    __slots__ = ("_new", "_old", "_since_s")

    def __init__(self) -> None:
        self._new: dict[bytes, float] = {}
        self._old: dict[bytes, float] = {}
        self._since_s = 0.0

    def __len__(self) -> int:
        return len(self._new) + len(self._old)

    def heard_before(self, payload: bytes, at_s: float) -> bool:
        """Was this very payload heard in the last SAME_WITHIN_S? It is noted as heard now."""
        new = self._new
        if not 0.0 <= at_s - self._since_s <= SAME_WITHIN_S or len(new) >= MOST:
            self._old, self._new, self._since_s = new, {}, at_s
            new = self._new
        before = new.get(payload)
        if before is None:
            before = self._old.get(payload)
        if before is not None and 0.0 <= at_s - before <= SAME_WITHIN_S:
            return True
        new[payload] = at_s
        return False
