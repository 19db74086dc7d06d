"""Phone push through apprise: any service it knows, by URLs kept in a file of their own.

Whatever goes wrong, the URL is a secret: it is in no message, no log and no error. A service
that takes the message and loses it cannot be seen from here; the drill proves the whole way.
"""

from __future__ import annotations

import logging
from typing import Any, ClassVar

import msgspec

from ..words.alert import Priority
from ..words.effects import Message
from ..words.orders import OutletTable
from ..words.wires import DeliveryFailed, EdgeOutlet, SecretReader

TYPES = {
    Priority.EMERGENCY: "failure",
    Priority.ALARM: "failure",
    Priority.WARNING: "warning",
    Priority.CAUTION: "info",
}


class Push(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`push = { urls = "credential:push-urls", urls_alarm = "..." }`: names of secrets."""

    urls: str
    urls_alarm: str | None = None  # for alarms and emergencies, instead of `urls`


class PushOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An [[outlet]] with `push`."""

    kind: ClassVar[str] = "push"

    push: Push

    def secret_files(self) -> dict[str, str]:
        """Key -> the secret that it names, for `check`."""
        found = {"push.urls": self.push.urls}
        if self.push.urls_alarm is not None:
            found["push.urls_alarm"] = self.push.urls_alarm
        return found

    def open(self, secret: SecretReader) -> EdgeOutlet:
        return PushSender(self.push, secret)


class PushSender:
    """Delivers one message at a time to all URLs of its priority."""

    def __init__(self, push: Push, secret: SecretReader) -> None:
        # apprise logs URLs at debug level; a secret must not get as far as a log.
        logging.getLogger("apprise").setLevel(logging.CRITICAL)
        self._plain = _urls(secret(push.urls))
        self._alarm = _urls(secret(push.urls_alarm)) if push.urls_alarm else self._plain
        self._senders: dict[bool, Any] = {}

    def deliver(self, message: Message) -> None:
        sender = self._sender(message.priority >= Priority.ALARM)
        drill = "DRILL: " if message.drill and not message.title.startswith("DRILL") else ""
        try:
            sent = sender.notify(
                title=f"{drill}{message.title}",
                body=message.text,
                notify_type=TYPES[message.priority],
            )
        except Exception as error:  # noqa: BLE001  # a plugin may raise anything; it must be retried
            raise DeliveryFailed(f"push failed: {type(error).__name__}") from None
        if not sent:
            raise DeliveryFailed("the push service did not take the message")

    def close(self) -> None:
        return None

    def _sender(self, urgent: bool) -> Any:
        sender = self._senders.get(urgent)
        if sender is None:
            import apprise

            sender = apprise.Apprise()
            for number, url in enumerate(self._alarm if urgent else self._plain, start=1):
                if not sender.add(url):
                    raise DeliveryFailed(f"push address {number} is not understood")
            self._senders[urgent] = sender
        return sender


def _urls(text: str) -> list[str]:
    """One URL a line; empty lines and lines with # are left out."""
    urls = [line.strip() for line in text.splitlines()]
    found = [url for url in urls if url and not url.startswith("#")]
    if not found:
        raise ValueError("the push secret holds no address")
    return found
