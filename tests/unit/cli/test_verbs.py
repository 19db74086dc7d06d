"""cli/: what each verb asks of the daemon, how it ends, and what a person reads."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from shipkeeper.app.clock import Clock
from shipkeeper.app.control import Answer, Control, Replies
from shipkeeper.app.inbox import Inbox
from shipkeeper.cli.main import VERBS, cli
from shipkeeper.cli.show import alerts_text, clean, span, status_text, table
from shipkeeper.words.events import Command


class Boat:
    """A control socket that notes each command and answers it as told."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.inbox, self.replies = Inbox(Clock()), Replies()
        self.seen: list[Command] = []
        self.answer = Answer(0, "done", {})
        self.stop = threading.Event()
        control = Control(folder / "control", self.inbox, self.replies)
        self.threads = [
            threading.Thread(target=control.run, args=(self.stop,)),
            threading.Thread(target=self._engine),
        ]
        for thread in self.threads:
            thread.start()
        while not (folder / "control").exists():
            self.stop.wait(0.01)
        self.stop.wait(0.05)

    def _engine(self) -> None:
        while (event := self.inbox.next(None)) is not None:
            assert isinstance(event, Command)
            self.seen.append(event)
            self.replies.give(event.number, self.answer)

    def say(self, *words: str) -> Result:
        return CliRunner().invoke(cli, [*words, "--state", str(self.folder)])

    def end(self) -> None:
        self.stop.set()
        self.inbox.close()
        for thread in self.threads:
            thread.join(5.0)


@pytest.fixture
def boat(tmp_path: Path) -> Iterator[Boat]:
    made = Boat(tmp_path)
    yield made
    made.end()


CASES: list[tuple[tuple[str, ...], str, dict[str, Any]]] = [
    (("anchor", "here"), "anchor", {"how": "here"}),
    (
        ("anchor", "at", "57.1,-5.2", "--rode", "35 m", "--depth", "6m", "--rise", "2.1 m"),
        "anchor",
        {"how": "at", "lat": 57.1, "lon": -5.2, "rode_m": 35.0, "depth_m": 6.0, "rise_m": 2.1},
    ),
    (("anchor", "at", "-33.5,151.2"), "anchor", {"how": "at", "lat": -33.5, "lon": 151.2}),
    (("anchor", "veer", "--rode", "100 ft"), "anchor", {"how": "veer", "rode_m": 30.48}),
    (("anchor", "move"), "anchor", {"how": "move"}),
    (("anchor", "move", "57,-5"), "anchor", {"how": "move", "lat": 57.0, "lon": -5.0}),
    (("moor",), "moor", {"how": "here"}),
    (("berth", "57,-5"), "berth", {"how": "at", "lat": 57.0, "lon": -5.0}),
    (("underway",), "underway", {}),
    (("off",), "off", {}),
    (("crew", "ashore"), "crew", {"where": "ashore"}),
    (("ack", "drag"), "ack", {"id": "drag"}),
    (("ack", "17", "--occurrence", "2"), "ack", {"id": "17", "occurrence": 2}),
    (("silence",), "silence", {}),
    (
        ("shelve", "blow", "--for", "30min", "--why", "known gusts"),
        "shelve",
        {"id": "blow", "for_s": 1800.0, "why": "known gusts"},
    ),
    (("unshelve", "blow"), "unshelve", {"id": "blow"}),
    (("take",), "take", {}),
    (("take", "--for", "4h", "--next", "mate"), "take", {"for_s": 14_400.0, "next": "mate"}),
    (("take", "drag"), "take", {"id": "drag"}),
    (("take", "--still"), "heartbeat", {}),
    (("transfer", "drag", "--to", "Bob"), "transfer", {"id": "drag", "to": "Bob"}),
    (("hand-back", "drag"), "hand-back", {"id": "drag"}),
    (
        ("handover", "Bob", "--for", "4h", "--next", "mate"),
        "handover",
        {"to": "Bob", "for_s": 14_400.0, "next": "mate"},
    ),
    (("reset", "hatch"), "reset", {"id": "hatch"}),
    (
        ("out-of-service", "blow", "--why", "vane broken"),
        "out-of-service",
        {"id": "blow", "why": "vane broken"},
    ),
    (("in-service", "blow"), "in-service", {"id": "blow"}),
    (
        ("zone", "off", "inner guard zone", "--for", "2h", "--why", "regatta"),
        "zone",
        {"name": "inner guard zone", "on": False, "for_s": 7200.0, "why": "regatta"},
    ),
    (("zone", "on", "inner guard zone"), "zone", {"name": "inner guard zone", "on": True}),
    (("measure", "own", "-33.5,151.2"), "measure", {"from": "own", "to": "-33.5,151.2"}),
]


@pytest.mark.parametrize(
    ("words", "verb", "args"), CASES, ids=[" ".join(case[0]) for case in CASES]
)
def test_each_verb_asks_what_the_engine_expects(
    words: tuple[str, ...], verb: str, args: dict[str, Any], boat: Boat
) -> None:
    """Quantities are SI, positions numbers, what is not given is left out."""
    done = boat.say(*words)
    assert (done.exit_code, done.output) == (0, "done\n")
    command = boat.seen[0]
    assert (command.verb, command.args, command.where) == (verb, args, "aboard")


def test_an_acknowledgement_from_ashore_says_so(boat: Boat) -> None:
    """--ashore: it is not proof that anyone is on deck."""
    boat.say("ack", "drag", "--ashore")
    assert boat.seen[0].where == "ashore"


@pytest.mark.parametrize(
    "words",
    [
        ("anchor", "at"),
        ("anchor", "here", "57,-5"),
        ("anchor", "at", "somewhere"),
        ("anchor", "at", "97.1,-5.2"),
        ("anchor", "here", "--rode", "35"),
        ("anchor", "here", "--rode", "35 kn"),
        ("anchor", "here", "--rod", "35 m"),
        ("crew", "away"),
        ("ack",),
        ("shelve", "blow", "--for", "30min"),
        ("shelve", "blow", "--why", "no time given"),
        ("zone", "sometimes", "x"),
        ("no-such-verb",),
    ],
    ids=" ".join,
)
def test_bad_arguments_end_with_2_and_reach_nobody(words: tuple[str, ...], boat: Boat) -> None:
    """A slip of the finger is refused before the engine sees it."""
    assert boat.say(*words).exit_code == 2
    assert boat.seen == []


@pytest.mark.parametrize("code", [0, 1, 2])
def test_the_answers_code_is_the_exit_code(code: int, boat: Boat) -> None:
    """0 good, 1 done with warnings, 2 refused (told on standard error)."""
    boat.answer = Answer(code, "words")
    done = boat.say("off")
    assert done.exit_code == code
    assert done.output == ("refused: words\n" if code == 2 else "words\n")


def test_no_daemon_is_3(tmp_path: Path) -> None:
    """Every verb that needs one, on an empty folder."""
    for words in (("status",), ("ack", "drag"), ("log",), ("alerts", "--json")):
        done = CliRunner().invoke(cli, [*words, "--state", str(tmp_path)])
        assert done.exit_code == 3, words
        assert "no daemon reached" in done.output


def test_json_is_one_object_with_code_and_text(boat: Boat) -> None:
    """--json prints what a program needs, and nothing else."""
    boat.answer = Answer(1, "words", {"watch": "anchored"})
    done = boat.say("anchor", "here", "--json")
    assert json.loads(done.output) == {"code": 1, "text": "words", "watch": "anchored"}
    assert done.exit_code == 1


def test_help_of_every_verb_loads() -> None:
    """Each verb has --help and, where it prints data, --json."""
    for verb in VERBS:
        done = CliRunner().invoke(cli, [verb, "--help"])
        assert done.exit_code == 0, done.output
        assert verb in ("watch", "diagnose") or "--json" in done.output, verb


def test_version_tells_what_it_stands_on() -> None:
    """--version: ours, Python's and the libraries'."""
    done = CliRunner().invoke(cli, ["--version"])
    assert done.exit_code == 0
    for name in ("shipkeeper ", "Python ", "pyais ", "pynmea2 ", "msgspec "):
        assert f"{name}" in done.output


# -- what a person reads ---------------------------------------------------------------------


def test_names_from_the_air_cannot_reach_the_terminal() -> None:
    """Escapes, bells and line ends in a ship's name are shown as '?'."""
    assert clean("\x1b[2J\x07EVIL\nNAME\u202e") == "?[2J?EVIL?NAME?"


def test_what_is_unknown_is_a_dash_and_never_zero() -> None:
    """No course, no CPA: '-'."""
    assert span(None) == "-"
    assert table(("a", "b"), [("-", "1")]) == "a  b\n-  1"


def test_alerts_have_their_words_and_marks() -> None:
    """Priority, state, when, id, occurrence; a drill and lost data cannot be missed."""
    text = alerts_text(
        [
            {
                "priority": "alarm", "state": "active-unacknowledged", "id": "drag", "number": 3,
                "raised": "2026-06-12T02:13:45.000Z", "occurrence": 1, "drill": True,
                "data_lost": True, "text": "52 m from the anchor\nStart the engine",
            }
        ]
    )  # fmt: skip
    assert text.splitlines()[0].startswith("ALARM     active-unacknowledged")
    assert "06-12 02:13:45" in text and "[DRILL]" in text and "[DATA LOST]" in text
    assert text.splitlines()[2].strip() == "Start the engine"
    assert alerts_text([]) == "no alerts"


def test_status_says_loudly_what_does_not_work() -> None:
    """No position, a rule that cannot be judged, no outlets, a dead store, a dead input."""
    text = status_text(
        {
            "vessel": "Marren", "watch": "anchored", "since": "2026-06-11T22:00:00.000Z",
            "at": "2026-06-12T02:00:00.000Z", "crew": "aboard", "time_quality": "gnss",
            "mark": {"lat": 57.1, "lon": -5.2, "rode_m": 35.0, "depth_m": 6.0},
            "own": {
                "lat": None, "lon": None, "last_lat": 57.1, "last_lon": -5.2,
                "position_age_s": 90.0, "position_source": None, "heading_deg": None,
                "course_deg": None, "speed_ms": None, "wind_ms": None, "wind_from_deg": None,
                "depth_below_transducer_m": None,
            },
            "inputs": [{
                "name": "gnss", "up": False, "why": "no such file", "last_line_age_s": 90.0,
                "good": 5, "unused": 0, "bad": 1, "brings": ["position"], "last_bad": None,
            }],
            "rules": [{"name": "drag", "kind": "drag", "standing": True, "lacks": ["position"],
                       "filters": []}],
            "outlets": [],
            "daemon": {
                "version": "0.1.0", "up_s": 90.0, "worst_lateness_s": 0.01, "waiting_events": 0,
                "dropped_lines": 7, "recording_lost": 0, "store_ok": False, "stuck": [],
                "restarts": {"input gnss": 2}, "abandoned": ["outlet phone"],
            },
            "alerts": [],
        }
    )  # fmt: skip
    for words in (
        "Marren: ANCHORED since 06-11 22:00:00, crew aboard",
        "mark 57°06.000'N 005°12.000'W, rode 35 m, depth 6 m",
        "own ship NO POSITION NOW; last 57°06.000'N 005°12.000'W",
        "CANNOT BE JUDGED: no position",
        "DOWN",
        "NO OUTLETS: nobody is called",
        "THE STORE DOES NOT WORK",
        "7 lines dropped",
        "input gnss started again 2 times",
        "left behind, hanging: outlet phone",
    ):
        assert words in text, text
