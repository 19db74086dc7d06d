"""Phone push through apprise: any service it knows, by URLs kept in a file of their own.

Each address is sent to in a thread of its own with a deadline, so one that hangs or drips
delays no other, and one that took the message is not sent it again while another is retried.
Whatever goes wrong, the URL is a secret: it is in no message, no log and no error. A service
that takes the message and loses it cannot be seen from here; the drill proves the whole way.
"""

from __future__ import annotations

import queue
import threading
import time
from collections import OrderedDict
from typing import Any, ClassVar

import msgspec

from ..words.alert import Priority
from ..words.effects import Message
from ..words.orders import OutletTable
from ..words.wires import DeliveryFailed, EdgeOutlet, SecretReader
from . import apprise_quiet
from .plain import lines, one_line

WITHIN_S = 20.0  # for all addresses of one message; then it is tried again later
MOST_HANGING = 3  # earlier tries of one address that hang still
HANGING_RETRY_S = 600.0  # with so many, one more try in this time
REMEMBERED = 500  # messages of which we know who has them already

TYPES = {
    Priority.EMERGENCY: "failure",
    Priority.ALARM: "failure",
    Priority.WARNING: "warning",
    Priority.CAUTION: "info",
}


class Push(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`push = { urls = "credential:push-urls", urls_alarm = "..." }`: names of secrets.

    The more urgent take the nearest list below theirs, so `urls_alarm` is for emergencies too.
    """

    urls: str
    urls_warning: str | None = None
    urls_alarm: str | None = None
    urls_emergency: str | None = None

    def of(self, priority: Priority) -> str:
        """The secret that names the addresses for this priority."""
        named = (self.urls, self.urls_warning, self.urls_alarm, self.urls_emergency)
        return next(name for name in reversed(named[:priority]) if name is not None)


class PushOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An [[outlet]] with `push`."""

    kind: ClassVar[str] = "push"

    push: Push

    def secret_files(self) -> dict[str, str]:
        """Key -> the secret that it names, for `check`."""
        named = msgspec.structs.asdict(self.push)
        return {f"push.{key}": name for key, name in named.items() if name is not None}

    def open(self, secret: SecretReader) -> EdgeOutlet:
        for name in self.secret_files().values():
            addresses(secret(name))
        return PushSender(self.push, secret)


class PushSender:
    """Delivers one message at a time to all URLs of its priority."""

    def __init__(self, push: Push, secret: SecretReader, within_s: float = WITHIN_S) -> None:
        self._push, self._secret, self._within_s = push, secret, within_s
        self._done: OrderedDict[str, set[str]] = OrderedDict()  # message -> who has it
        self._lanes: dict[str, Lane] = {}
        # The first import takes seconds on a small board: not when the first alarm waits for it.
        threading.Thread(target=apprise_quiet.load, name="push import", daemon=True).start()

    def deliver(self, message: Message) -> None:
        """To every address that has not got it yet. Raises DeliveryFailed if one fails; the
        others have it then and are left out of the next try."""
        done = self._done.setdefault(message.id, set())
        while len(self._done) > REMEMBERED:
            self._done.popitem(last=False)
        urls = self._urls(message.priority)
        answers: queue.SimpleQueue[tuple[str, str]] = queue.SimpleQueue()
        waiting = {}
        failures: list[str] = []
        for number, url in enumerate(urls, start=1):
            if url in done:
                continue
            lane = self._lanes.setdefault(url, Lane(url))
            if lane.send(written(message), done, answers):
                waiting[url] = number
            else:
                failures.append(f"address {number}: earlier tries hang still")
        edge_s = time.monotonic() + self._within_s
        while waiting:
            try:
                url, why = answers.get(timeout=max(0.0, edge_s - time.monotonic()))
            except queue.Empty:
                failures += [f"address {n}: no answer in time" for n in waiting.values()]
                break
            number = waiting.pop(url)
            if why:
                failures.append(f"address {number}: {why}")
        if failures:
            raise DeliveryFailed(f"push, {'; '.join(failures)} (of {len(urls)})")
        self._done.pop(message.id, None)

    def close(self) -> None:
        self._lanes.clear()

    def _urls(self, priority: Priority) -> list[str]:
        """Read anew each time, so that a mended file works at once."""
        try:
            return addresses(self._secret(self._push.of(priority)))
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or error
            raise DeliveryFailed(f"push addresses cannot be read: {why}") from None


class Lane:
    """One address. Its tries run in threads that nobody need wait for."""

    def __init__(self, url: str) -> None:
        self._url = url
        self._hanging: list[threading.Thread] = []
        self._tried_s = float("-inf")

    def send(
        self, letter: dict[str, str], done: set[str], answers: queue.SimpleQueue[tuple[str, str]]
    ) -> bool:
        """Begin a try; its answer (url, why not) goes to the queue. False: too many hang.

        One that succeeds after nobody waited any more still counts: it is in `done`.
        """

        def try_it() -> None:
            why = apprise_quiet.send(self._url, letter)
            if not why:
                done.add(self._url)
            answers.put((self._url, why))

        now_s = time.monotonic()
        self._hanging = [thread for thread in self._hanging if thread.is_alive()]
        if len(self._hanging) >= MOST_HANGING and now_s - self._tried_s < HANGING_RETRY_S:
            return False
        self._tried_s = now_s
        thread = threading.Thread(target=try_it, name="push", daemon=True)
        thread.start()
        self._hanging.append(thread)
        return True


def written(message: Message) -> dict[str, Any]:
    """Title, body and type as apprise takes them. The last line is the same in duplicates."""
    drill = "DRILL: " if message.drill and "DRILL" not in message.title.upper() else ""
    return {
        "title": f"{drill}{one_line(message.title)}",
        "body": f"{lines(message.text)}\nref {message.number}.{message.occurrence}"
        f" {message.event} {message.at[11:19]}",
        "notify_type": "success" if message.event == "cleared" else TYPES[message.priority],
    }


def addresses(text: str) -> list[str]:
    """One URL a line; empty lines and lines with # are left out. ValueError if none."""
    found = [line.strip() for line in text.splitlines()]
    urls = list(dict.fromkeys(url for url in found if url and not url.startswith("#")))
    if not urls:
        raise ValueError("the push secret holds no address")
    return urls
