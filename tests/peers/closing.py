"""What every peer is: something that a `with` closes."""

from __future__ import annotations

from types import TracebackType
from typing import Self


class Closing:
    """Subclasses say in `close` how they end; ending twice is no error."""

    def close(self) -> None:
        raise NotImplementedError

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
