"""apprise, kept from talking: one send to one address, and a reason without its secret.

apprise logs what went wrong, sometimes with parts of the URL. Its log goes to a catcher here
and no further; of the text only an HTTP code and a few known words get out.

It keeps to itself what a service answers: of 'too many requests' (429) neither the header nor the
text with how long to wait is handed out. All its plugins call through `requests`, so the answer
is noted there (_listen) and asked for afterwards. And it would send from a few threads that all
addresses share, where some that hang keep the others waiting: it is told to use ours.
"""

from __future__ import annotations

import importlib
import logging
import re
import threading
import time
from email.utils import parsedate_to_datetime
from typing import Any

TOO_MANY, UNAVAILABLE = 429, 503
TOO_MANY_S = 60.0  # to wait when a service does not say how long: limits go by the minute (ours)
MOST_READ = 4096  # bytes of an answer that is looked into

_CODE = re.compile(r"\berror=(\d{3})\b")
_AFTER = re.compile(rb'"retry_after(_ms)?"\s*:\s*(\d+(?:\.\d+)?)')  # in the text of an answer
_load = threading.Lock()
_heard = threading.local()


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

        _listen()
        log.handlers = [_catcher]
        return apprise


def send(url: str, letter: dict[str, Any]) -> tuple[str, float | None]:
    """Send to one address. Returns ('', None) when it was taken, else why not, in words of ours,
    and how many seconds the service wants to be left alone, if it said so."""
    _heard.code, _heard.again_s = None, None
    try:
        apprise = load()
        sender = apprise.Apprise(asset=_asset(apprise))
        if not sender.add(url):
            return "not understood", None
        answer = sender.notify(**letter, body_format="text")
        if answer:
            return "", None
        logs = answer.logs() if hasattr(answer, "logs") else ()
        return _why(" ".join([_catcher.taken(), *(str(entry.message) for entry in logs)]))
    except Exception as error:  # noqa: BLE001  # a plugin may raise anything; it must be retried
        return f"failed ({type(error).__name__})", None
    finally:
        _catcher.taken()


def takes_pictures(url: str) -> bool:
    """Whether this service has a place for an attachment."""
    try:
        apprise = load()
        sender = apprise.Apprise(asset=_asset(apprise))
        return bool(sender.add(url)) and bool(getattr(sender[0], "attachment_support", False))
    except Exception:  # noqa: BLE001  # as in send
        return False
    finally:
        _catcher.taken()


def send_picture(url: str, letter: dict[str, str], png: bytes) -> tuple[str, float | None]:
    """As send, with a picture."""
    try:
        memory: Any = importlib.import_module("apprise.attachment.memory")
        picture = memory.AttachMemory(content=png, name="shipkeeper.png", mimetype="image/png")
    except Exception as error:  # noqa: BLE001  # as in send
        return f"failed ({type(error).__name__})", None
    return send(url, {**letter, "attach": picture})


def _asset(apprise: Any) -> Any:
    """Settings by which it sends in the thread that asks, with no thread between."""
    try:
        return apprise.AppriseAsset(async_mode=False, service_timeout=0)
    except (AttributeError, TypeError):  # one before 2.3 has no such limit
        return apprise.AppriseAsset(async_mode=False)


def _why(said: str) -> tuple[str, float | None]:
    told = _CODE.search(said)
    code = _heard.code or (int(told[1]) if told is not None else None)
    if code == TOO_MANY or (code == UNAVAILABLE and _heard.again_s is not None):
        again_s = TOO_MANY_S if _heard.again_s is None else _heard.again_s
        return f"the service answered {code} and wants {again_s:.0f} s without a message", again_s
    if code is not None:
        return f"the service answered {code}", None
    if "onnection" in said or "imeout" in said or "imed out" in said:
        return "could not be reached", None
    return "the service did not take it", None


def _listen() -> None:
    """Note what each refusal says, in the thread that asked. Called once, under the lock."""
    from requests import Response, Session

    send = Session.send
    if getattr(send, "notes_refusals", False):
        return

    def noted(*args: Any, **kwargs: Any) -> Response:
        answer = send(*args, **kwargs)
        if answer.status_code >= 400:
            _heard.code = answer.status_code
            text = b"" if kwargs.get("stream") else answer.content[:MOST_READ]
            _heard.again_s = asked_for_s(answer.headers.get("Retry-After"), text)
        else:
            _heard.code = None
        return answer

    noted.notes_refusals = True  # type: ignore[attr-defined]  # so that it is done once
    Session.send = noted  # type: ignore[method-assign]  # see above


def asked_for_s(header: str | None, text: bytes = b"") -> float | None:
    """Seconds to wait, of an answer's Retry-After (RFC 9110 10.2.3: seconds, or a date), else
    of a field of that name in its text, as some services have it. None: it does not say."""
    said = (header or "").strip()
    if re.fullmatch(r"\d{1,9}(\.\d+)?", said, re.ASCII):
        return float(said)
    try:
        return max(0.0, parsedate_to_datetime(said).timestamp() - time.time())
    except (ValueError, TypeError, OverflowError):
        pass
    found = _AFTER.search(text)
    if found is None:
        return None
    return float(found[2]) / (1000.0 if found[1] else 1.0)
