"""The control socket: a person's commands in, answers out; JSON, one object a line.

A UNIX socket guarded by file mode (0660) and group, never the network. Who asks is what the
kernel says of the other end (peer credentials), not what they claim. A request is
`{"verb": "ack", "args": {"id": "drag"}, "where": "aboard"}`; the answer is
`{"code": 0, "text": "...", "data": {...}}`, code as the command line's exit code.

A slow or mischievous client costs one thread of at most `MAX_CLIENTS` and nothing else.
"""

from __future__ import annotations

import grp
import os
import pwd
import socket
import struct
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import msgspec

from .inbox import Inbox
from .log import log

MAX_CLIENTS = 16
MAX_REQUEST = 65_536
ANSWER_WITHIN_S = 10.0
IDLE_S = 60.0
GROUP = "shipkeeper"


class Request(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a client may send."""

    verb: str
    args: dict[str, Any] = {}
    where: Literal["aboard", "ashore"] = "aboard"


class Answer(msgspec.Struct, frozen=True):
    """What it gets back."""

    code: int
    text: str
    data: dict[str, Any] = {}


class Replies:
    """Pairs answers from the engine with those who wait for them."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._waiting: dict[int, tuple[threading.Event, list[Answer]]] = {}

    def expect(self, number: int) -> None:
        with self._lock:
            self._waiting[number] = (threading.Event(), [])

    def give(self, number: int, answer: Answer) -> None:
        """Hand over the answer; nobody waiting (any more) is no fault."""
        with self._lock:
            slot = self._waiting.get(number)
        if slot is not None:
            slot[1].append(answer)
            slot[0].set()

    def wait(self, number: int, timeout_s: float) -> Answer | None:
        with self._lock:
            done, answers = self._waiting[number]
        done.wait(timeout_s)
        with self._lock:
            del self._waiting[number]
        return answers[0] if answers else None


class Control:
    """Listens at `path`; `extra` answers what the engine need not be asked (log rows)."""

    def __init__(
        self,
        path: Path,
        inbox: Inbox,
        replies: Replies,
        extra: dict[str, Callable[[dict[str, Any]], Answer]] | None = None,
    ) -> None:
        self.path = path
        self._inbox, self._replies = inbox, replies
        self._extra = extra or {}
        self._room = threading.BoundedSemaphore(MAX_CLIENTS)

    def run(self, stop: threading.Event) -> None:
        """Serve until told to stop. Raises OSError when the socket cannot be had."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
            self._bind(listener)
            listener.listen(8)
            listener.settimeout(0.5)
            try:
                while not stop.is_set():
                    try:
                        client, _ = listener.accept()
                    except TimeoutError:
                        continue
                    if not self._room.acquire(timeout=1.0):
                        client.close()
                        continue
                    threading.Thread(
                        target=self._serve, args=(client, stop), name="control client", daemon=True
                    ).start()
            finally:
                self.path.unlink(missing_ok=True)

    def _bind(self, listener: socket.socket) -> None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        if self.path.is_socket():
            self.path.unlink()  # of a run that was killed; the state's lock keeps out a second one
        listener.bind(str(self.path))  # until the next line, only the owner may connect
        self.path.chmod(0o660)
        try:
            os.chown(self.path, -1, grp.getgrnam(GROUP).gr_gid)
        except (KeyError, PermissionError):
            return  # no such group here, or not ours to give: the owner's own group stays

    def _serve(self, client: socket.socket, stop: threading.Event) -> None:
        try:
            with client:
                client.settimeout(IDLE_S)
                who = peer_name(client)
                with client.makefile("rb") as lines:
                    while not stop.is_set():
                        raw = lines.readline(MAX_REQUEST)
                        if not raw:
                            return
                        answer = self._answer(raw, who)
                        client.sendall(msgspec.json.encode(answer) + b"\n")
        except OSError:
            return  # the client went away: nobody to tell
        finally:
            self._room.release()

    def _answer(self, raw: bytes, who: str) -> Answer:
        try:
            request = msgspec.json.decode(raw, type=Request)
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            return Answer(2, f"not understood: {error}")
        own = self._extra.get(request.verb)
        if own is not None:
            return own(request.args)
        number = self._inbox.command(
            request.verb,
            request.args,
            who=who,
            where=request.where,
            asked=self._replies.expect,
        )
        answer = self._replies.wait(number, ANSWER_WITHIN_S)
        if answer is None:
            log(f"control: no answer to {request.verb} within {ANSWER_WITHIN_S:g} s")
            return Answer(1, "no answer in time; it may still be done: look at the status")
        return answer


def peer_name(client: socket.socket) -> str:
    """The login name of the process at the other end, by the kernel's word."""
    raw = client.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    _, uid, _ = struct.unpack("3i", raw)
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return f"uid {uid}"
