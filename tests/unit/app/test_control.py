"""app/control.py: commands over a real UNIX socket, each with its answer."""

from __future__ import annotations

import grp
import json
import os
import pwd
import socket
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipkeeper.app import control
from shipkeeper.app.clock import Clock
from shipkeeper.app.control import Answer, Control, Replies
from shipkeeper.app.inbox import Inbox
from shipkeeper.words.events import Command


class House:
    """A control socket with an engine that answers every command by naming it."""

    def __init__(self, folder: Path) -> None:
        self.inbox = Inbox(Clock())
        self.replies = Replies()
        self.seen: list[Command] = []
        self.path = folder / "run" / "control"
        extra = {"log": lambda args: Answer(0, "rows", {"args": args})}
        self.control = Control(self.path, self.inbox, self.replies, extra)
        self.stop = threading.Event()
        self.threads = [
            threading.Thread(target=self.control.run, args=(self.stop,)),
            threading.Thread(target=self._engine),
        ]
        for thread in self.threads:
            thread.start()
        while not self.path.exists():
            self.stop.wait(0.01)
        self.stop.wait(0.05)

    def _engine(self) -> None:
        while (event := self.inbox.next(None)) is not None:
            assert isinstance(event, Command)
            self.seen.append(event)
            if event.verb != "lost":
                answer = Answer(2 if event.verb == "bad" else 0, f"did {event.verb}")
                self.replies.give(event.number, answer)

    def ask(self, *raw: bytes) -> list[dict[str, object]]:
        with socket.socket(socket.AF_UNIX) as client:
            client.settimeout(5.0)
            client.connect(str(self.path))
            answers = []
            with client.makefile("rwb") as wire:
                for request in raw:
                    wire.write(request + b"\n")
                    wire.flush()
                    answers.append(json.loads(wire.readline()))
            return answers

    def end(self) -> None:
        self.stop.set()
        self.inbox.close()
        for thread in self.threads:
            thread.join(5.0)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    made = House(tmp_path)
    yield made
    made.end()


def test_a_command_reaches_the_engine_and_its_answer_comes_back(house: House) -> None:
    """Two commands on one connection, in order, each with its own answer."""
    answers = house.ask(b'{"verb":"ack","args":{"id":"drag"},"where":"ashore"}', b'{"verb":"bad"}')
    assert answers[0] == {"code": 0, "text": "did ack", "data": {}}
    assert answers[1]["code"] == 2
    first = house.seen[0]
    assert (first.verb, first.args, first.where) == ("ack", {"id": "drag"}, "ashore")
    assert first.through == "command line"


def test_who_asks_is_what_the_kernel_says(house: House) -> None:
    """The login name of this very process, not a name in the request."""
    house.ask(b'{"verb":"silence"}')
    assert house.seen[0].who == pwd.getpwuid(os.getuid()).pw_name
    refused = house.ask(b'{"verb":"silence","who":"the skipper"}')
    assert refused[0]["code"] == 2
    assert len(house.seen) == 1


def test_only_owner_and_group_may_speak(house: House) -> None:
    """The socket's mode is 0660."""
    assert stat.S_IMODE(house.path.stat().st_mode) == 0o660


def test_the_group_of_the_house_may_speak(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The socket is given to the group by its name; without such a group it stays our own. Who
    is in neither is refused by the kernel (unix(7): connecting wants the right to write)."""
    ours = [grp.getgrgid(gid) for gid in os.getgroups()] or [grp.getgrgid(os.getgid())]
    group = grp.getgrnam("daemon") if os.geteuid() == 0 else ours[-1]
    for name, gid in ((group.gr_name, group.gr_gid), ("no-such-group", os.getegid())):
        monkeypatch.setattr(control, "GROUP", name)
        made = House(tmp_path / name)
        try:
            assert made.path.stat().st_gid == gid
            if os.geteuid() == 0:
                assert _may_connect(made.path, member_of=gid)
                assert not _may_connect(made.path, member_of=65_534)
        finally:
            made.end()


def _may_connect(path: Path, member_of: int) -> bool:
    """Asked by a process that gives up being root for a stranger who is in that group alone."""
    tries = (
        f"import os, socket; os.setgroups([]); os.setgid({member_of}); os.setuid(65534);"
        f"socket.socket(socket.AF_UNIX).connect({path.name!r})"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-c", tries], cwd=path.parent, capture_output=True, check=False
    )
    assert done.returncode == 0 or b"PermissionError" in done.stderr, done.stderr
    return done.returncode == 0


def test_nonsense_is_refused_and_the_connection_lives(house: House) -> None:
    """Not JSON, wrong types, unknown keys: code 2 and a reason; the next request works."""
    answers = house.ask(b"hello", b'{"verb":7}', b'{"verb":"off","args":3}', b'{"verb":"off"}')
    assert [a["code"] for a in answers] == [2, 2, 2, 0]
    assert all("not understood" in str(a["text"]) for a in answers[:3])


def test_what_the_engine_need_not_know_is_answered_beside_it(house: House) -> None:
    """`log` comes from the store and makes no event."""
    assert house.ask(b'{"verb":"log","args":{"last":5}}')[0]["data"] == {"args": {"last": 5}}
    assert house.seen == []


def test_many_at_once(house: House) -> None:
    """Ten clients at once each get the answer to their own question."""
    got: dict[int, object] = {}

    def ask(number: int) -> None:
        got[number] = house.ask(f'{{"verb":"v{number}"}}'.encode())[0]["text"]

    threads = [threading.Thread(target=ask, args=(n,)) for n in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(10)
    assert got == {n: f"did v{n}" for n in range(10)}


def test_a_socket_left_by_a_killed_run_is_replaced(tmp_path: Path) -> None:
    """A stale socket file does not keep the daemon from listening."""
    (tmp_path / "run").mkdir()
    stale = socket.socket(socket.AF_UNIX)
    stale.bind(str(tmp_path / "run" / "control"))
    stale.close()
    house = House(tmp_path)
    try:
        assert house.ask(b'{"verb":"off"}')[0]["code"] == 0
    finally:
        house.end()
