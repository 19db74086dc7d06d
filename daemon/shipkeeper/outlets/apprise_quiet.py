"""apprise, kept from talking: one send to one address, and a reason without its secret.

apprise logs what went wrong, sometimes with parts of the URL. Its log goes to a catcher here
and no further; of the text only an HTTP code and a few known words get out.
"""

from __future__ import annotations

import logging
import re
import threading
from typing import Any

_CODE = re.compile(r"\berror=(\d{3})\b")
_load = threading.Lock()


class _Catcher(logging.Handler):
    """Keeps the last warning of each thread, for an apprise that does not hand out its log."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self._said: dict[int, str] = {}

    def emit(self, record: logging.LogRecord) -> None:
        self._said[threading.get_ident()] = record.getMessage()

    def taken(self) -> str:
        return self._said.pop(threading.get_ident(), "")


_catcher = _Catcher()


def load() -> Any:
    """The apprise module, with its log turned to the catcher before it says anything."""
    with _load:
        log = logging.getLogger("apprise")
        log.propagate = False
        log.setLevel(logging.WARNING)
        import apprise

        log.handlers = [_catcher]
        return apprise


def send(url: str, letter: dict[str, str]) -> str:
    """Send to one address. Returns '' when it was taken, else why not, in words of ours."""
    try:
        sender = load().Apprise()
        if not sender.add(url):
            return "not understood"
        answer = sender.notify(**letter, body_format="text")
        if answer:
            return ""
        logs = answer.logs() if hasattr(answer, "logs") else ()
        return _why(" ".join([_catcher.taken(), *(str(entry.message) for entry in logs)]))
    except Exception as error:  # noqa: BLE001  # a plugin may raise anything; it must be retried
        return f"failed ({type(error).__name__})"
    finally:
        _catcher.taken()


def _why(said: str) -> str:
    code = _CODE.search(said)
    if code is not None:
        return f"the service answered {code[1]}"
    if "onnection" in said or "imeout" in said or "imed out" in said:
        return "could not be reached"
    return "the service did not take it"
