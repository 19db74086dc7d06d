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
from collections.abc import Sequence
from typing import Any, ClassVar

import msgspec

from ..words.alert import Priority
from ..words.effects import Message
from ..words.orders import OutletTable
from ..words.wires import DeliveryFailed, EdgeOutlet, Ended, SecretReader
from . import apprise_quiet
from .pictures import Pictures
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
    picture: bool = True  # of what was to be seen follows, where the service takes one

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
        return {f"push.{key}": name for key, name in named.items() if isinstance(name, str)}

    def explain(self) -> list[str]:
        follows = "follows" if self.push.picture else "is not sent"
        return [f"a picture of what was to be seen {follows}, where the service takes one"]

    def open(self, secret: SecretReader) -> EdgeOutlet:
        for name in self.secret_files().values():
            addresses(secret(name))
        return PushSender(self.push, secret)


class PushSender:
    """AddressedOutlet of words.wires; and an EdgeOutlet, for who has one message at a time."""

    def __init__(self, push: Push, secret: SecretReader, within_s: float = WITHIN_S) -> None:
        self._push, self._secret, self.within_s = push, secret, within_s
        self._done: OrderedDict[str, set[str]] = OrderedDict()  # message -> who has it
        self._lines: dict[str, Line] = {}
        self._pictures = Pictures()
        # The first import takes seconds on a small board: not when the first alarm waits for it.
        threading.Thread(target=apprise_quiet.load, name="push import", daemon=True).start()

    def addresses(self, priority: Priority) -> Sequence[str]:
        """Read anew each time, so that a mended file works at once."""
        try:
            return addresses(self._secret(self._push.of(priority)))
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or error
            raise DeliveryFailed(f"push addresses cannot be read: {why}") from None

    def named(self, number: int) -> str:
        return f"push address {number}: "

    def begin(self, address: str, message: Message, ended: Ended) -> bool:
        """See AddressedOutlet."""

        def then(why: str, again_s: float | None = None) -> None:
            ended(why, again_s)
            if not why and self._push.picture:
                self._pictures.offer(address, message)

        line = self._lines.setdefault(address, Line(address))
        return line.send(written(message), then)

    def deliver(self, message: Message) -> None:
        """To every address that has not got it yet. Raises DeliveryFailed if one fails; the
        others have it then and are left out of the next try."""
        done = self._done.setdefault(message.id, set())
        while len(self._done) > REMEMBERED:
            self._done.popitem(last=False)
        urls = self.addresses(message.priority)
        answers: queue.SimpleQueue[tuple[str, str, float | None]] = queue.SimpleQueue()
        waiting: dict[str, int] = {}
        failures: dict[int, str] = {}
        again_s: float | None = None
        for number, url in enumerate(urls, start=1):
            if url in done:
                continue
            if self.begin(url, message, _noting(url, done, answers)):
                waiting[url] = number
            else:
                failures[number] = "earlier tries hang still"
        edge_s = time.monotonic() + self.within_s
        while waiting:
            try:
                url, why, told_s = answers.get(timeout=max(0.0, edge_s - time.monotonic()))
            except queue.Empty:
                failures |= dict.fromkeys(waiting.values(), "no answer in time")
                break
            number = waiting.pop(url)
            if why:
                failures[number] = why
                again_s = told_s if again_s is None else max(again_s, told_s or 0.0)
        if failures:
            told = "; ".join(f"{self.named(n)}{why}" for n, why in sorted(failures.items()))
            raise DeliveryFailed(f"{told} (of {len(urls)})", again_s)
        self._done.pop(message.id, None)

    def close(self) -> None:
        self._lines.clear()
        self._pictures.close()


def _noting(
    url: str, done: set[str], answers: queue.SimpleQueue[tuple[str, str, float | None]]
) -> Ended:
    """One that succeeds after nobody waited any more still counts: it is in `done`."""

    def ended(why: str, again_s: float | None = None) -> None:
        if not why:
            done.add(url)
        answers.put((url, why, again_s))

    return ended


class Line:
    """One address. Its tries run in threads that nobody need wait for."""

    def __init__(self, url: str) -> None:
        self._url = url
        self._hanging: list[threading.Thread] = []
        self._tried_s = float("-inf")

    def send(self, letter: dict[str, Any], ended: Ended) -> bool:
        """Begin a try. False: too many hang."""

        def try_it() -> None:
            ended(*apprise_quiet.send(self._url, letter))

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
