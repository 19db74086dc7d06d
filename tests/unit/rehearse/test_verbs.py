"""`rehearse` and `report` as a person types them: what is printed, exit codes, refusals."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from tests.unit.rehearse.scenes import ANCHORED

from shipkeeper.cli.main import cli


def say(*words: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words])


def rows(result: Result) -> list[dict[str, Any]]:
    return [json.loads(line) for line in result.output.splitlines()]


@pytest.fixture
def anchored(orders_file: Path) -> tuple[str, ...]:
    return ("--orders", str(orders_file), *ANCHORED)


def test_transitions_and_a_summary(drag_file: Path, anchored: tuple[str, ...]) -> None:
    """One JSON object a transition, the summary last; the same figures in the text."""
    found = rows(say("rehearse", drag_file, *anchored, "--json"))
    assert [row["alert"] for row in found[:-1]] == ["drag"] * (len(found) - 1)
    summary = found[-1]["summary"]
    assert summary["transitions"] == len(found) - 1
    assert summary["wake_ups"] == 1
    assert [night["night"] for night in summary["nights"]] == ["2026-06-11"]
    text = say("rehearse", drag_file, *anchored).output
    assert "wake-ups 1, over 1 night(s): 0 for nothing" in text


def test_compare_alert_by_alert(
    drag_file: Path, anchored: tuple[str, ...], orders_file: Path, tmp_path: Path
) -> None:
    """Other orders with a wide margin: the alarm later, by how much, and the counts."""
    other = tmp_path / "other.toml"
    other.write_text(
        orders_file.read_text().replace('false_alarms = "1 in 365 nights"', 'margin = "20 m"')
    )
    text = say("rehearse", drag_file, *anchored, "--compare", other).output
    assert "LATER by" in text
    assert "wake-ups 1 now, 1 under the other orders" in text
    found = rows(say("rehearse", drag_file, *anchored, "--compare", other, "--json"))
    assert found[-1]["summary"]["changes"]["later"] >= 1
    assert any(row["compared"]["change"] == "later" for row in found[:-1])


def test_sweep_recommends_and_says_how_thin(drag_file: Path, anchored: tuple[str, ...]) -> None:
    """A table, a recommendation, the evidence; as JSON with one object a value."""
    result = say("rehearse", drag_file, *anchored, "--sweep", "drag.margin=5m..50m/3")
    assert "Recommended: drag.margin = 5 m" in result.output
    assert "THIN" in result.output
    found = rows(
        say("rehearse", drag_file, *anchored, "--sweep", "drag.margin=5m..50m/2", "--json")
    )
    assert [row["setting"]["value"] for row in found[:-1]] == ["5 m", "50 m"]
    assert found[-1]["summary"]["recommended"] == "5 m"


def test_expectations_decide_the_exit_code(
    drag_file: Path, anchored: tuple[str, ...], tmp_path: Path
) -> None:
    """0 when all are kept, 1 when one is broken, which is told with what was instead."""
    entry = '[[expect]]\nat = "2026-06-12T03:13:00Z"\nalert = "drag"\nstate = "{}"\n'
    path = tmp_path / "expect.toml"
    path.write_text(entry.format("raised"))
    result = say("rehearse", drag_file, *anchored, "--expect", path)
    assert (result.exit_code, "1 of 1 expectations kept" in result.output) == (0, True)
    path.write_text(entry.format("not raised"))
    result = say("rehearse", drag_file, *anchored, "--expect", path)
    assert result.exit_code == 1
    assert "BROKEN" in result.output
    assert "it was: drag: active" in result.output


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--sweep", "drag.margin"), "expected KEY=FROM..TO"),
        (("--sweep", "drag.margin=5m..9kn"), "expected one unit, m or kn"),
        (("--sweep", "drag.margin=5m..5m"), "expected 2 to 100 values"),
        (("--sweep", "drag.margin=1.2.3m..5m"), "are no numbers"),
        (("--sweep", "drag.mragin=5m..9m"), "mragin: unknown key"),
        (("--sweep", "anchor.margin=5m..9m"), "expected RULE.KEY with a rule of these orders"),
        (("--sweep", "drag.margin=5m..9m", "--compare", "x.toml"), "expected only one of them"),
        (("--compare", "none.toml"), "none.toml"),
        (("--expect", "none.toml"), "none.toml: cannot be read"),
        (("--anchor", "1..2,3"), "--anchor is LAT,LON"),
        (("--cores", "0"), "--cores"),
    ],
)
def test_refusals_are_one_line(
    drag_file: Path, anchored: tuple[str, ...], words: tuple[str, ...], told: str
) -> None:
    """What was wrong and what was expected, exit code 2, no traceback."""
    result = say("rehearse", drag_file, *anchored, *words)
    assert result.exit_code == 2
    assert told in result.output
    assert "Traceback" not in result.output


def test_a_file_that_is_not_there_or_no_recording(
    anchored: tuple[str, ...], tmp_path: Path
) -> None:
    """Each verb names the file."""
    for verb in ("rehearse", "report"):
        result = say(verb, tmp_path / "none.nmea", *anchored)
        assert (result.exit_code, "none.nmea: No such file" in result.output) == (2, True)
        empty = tmp_path / "empty.nmea"
        empty.write_text("")
        result = say(verb, empty, *anchored)
        assert (result.exit_code, "empty.nmea: no sentence in it" in result.output) == (2, True)


def test_a_zone_key_by_the_rules_name(drag_file: Path, anchored: tuple[str, ...]) -> None:
    """A key within a key, of a rule by its name in small letters."""
    result = say("rehearse", drag_file, *anchored, "--sweep", "guard-zone.ring.to=0.1NM..0.2NM/2")
    assert "No recommendation: every value did the same here" in result.output


def test_the_report_as_data(drag_file: Path, anchored: tuple[str, ...], tmp_path: Path) -> None:
    """What the page says, with the estimated anchor and how far it is known, from the verdict."""
    page = tmp_path / "night.html"
    result = say("report", drag_file, *anchored, "--html", page, "--json")
    (said,) = rows(result)
    assert said["headline"].startswith("DRAG ALARM at")
    assert said["not_acknowledged"] == ["drag"]
    assert said["anchor"]["estimated"] is not None
    assert said["anchor"]["sigma_m"] > 0
    assert said["written"][str(page)] == page.stat().st_size
    outside = ("http://", "https://", "src=", "@import", "url(//")
    assert not [word for word in outside if word in page.read_text()]


def test_without_recordings_the_last_day_of_the_daemons_own(
    drag_file: Path, anchored: tuple[str, ...], tmp_path: Path
) -> None:
    """From the recorder's folder in the state; none there is told."""
    result = say("report", *anchored, "--state", tmp_path)
    assert (result.exit_code, "no recordings in" in result.output) == (2, True)
    folder = tmp_path / "recordings"
    folder.mkdir()
    (folder / "20260612T025800-000Z.nmea.gz").write_bytes(drag_file.read_bytes())
    (said,) = rows(say("report", *anchored, "--state", tmp_path, "--json"))
    assert said["from"].startswith("2026-06-12T02:58")


def test_the_progress_bar_is_for_a_terminal_only(
    drag_file: Path, anchored: tuple[str, ...]
) -> None:
    """On a pty it shows the share and the time left; into a pipe not a byte."""
    words = [sys.executable, "-m", "shipkeeper.cli.main", "rehearse", str(drag_file), *anchored]
    piped = subprocess.run(words, capture_output=True, check=True)
    assert piped.stderr == b""
    mine, theirs = pty.openpty()
    seen = bytearray()

    def read() -> None:
        """All along: a pty holds 4 kB, and a slow machine draws more bars than that."""
        with contextlib.suppress(OSError):  # nobody holds the other end any more
            while chunk := os.read(mine, 4096):
                seen.extend(chunk)

    reader = threading.Thread(target=read)
    reader.start()
    try:
        with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=theirs) as process:
            out, _ = process.communicate(timeout=60)
    finally:
        os.close(theirs)
        reader.join(10)
        os.close(mine)
    shown = seen.decode()
    assert out == piped.stdout
    assert "rehearsing" in shown
    assert "left" in shown


@pytest.mark.parametrize("watch", ["anchored", "moored", "berthed"])
def test_a_watch_at_rest_without_a_mark_takes_the_first_fix(
    drag_file: Path, orders_file: Path, watch: str
) -> None:
    """Without a mark none of them can be set, and a night not watched would look like a quiet
    one."""
    found = rows(say("rehearse", drag_file, "--orders", orders_file, "--watch", watch, "--json"))
    assert any(row.get("alert") == "drag" and row["to"] != "normal" for row in found[:-1])
    assert found[-1]["summary"]["not_watched"] == []


def test_a_night_on_which_no_watch_was_set_is_no_quiet_night(
    drag_file: Path, anchored: tuple[str, ...]
) -> None:
    """The time to set it never came: said on the error stream and in the summary, exit code 1."""
    late = (*anchored, "--set-at", "2026-06-12T09:00:00Z")
    result = say("rehearse", drag_file, *late)
    assert result.exit_code == 1
    assert "NOT WATCHED" in result.stderr and "before the time" in result.stderr
    found = json.loads(say("rehearse", drag_file, *late, "--json").stdout.splitlines()[-1])
    assert len(found["summary"]["not_watched"]) == 1
