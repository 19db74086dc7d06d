"""`shipkeeper check`, run as a person runs it: texts and exit codes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

BOAT = '[vessel]\nname = "Curlew"\nlength = "11.4 m"\nbeam = "3.6 m"\n'
CIRCLE = '[drag]\nradius = "45 m"\n'

TEN = """\
[vessel]
name = "Curlew"
lenght = "11.4 m"
beam = 3.6
draught = "1.8 s"

[[zone]]
name = "inner guard zone"
sector = { left = 330, right = 30 }
confirm = 5
watches = ["anchored", "mored"]
call = ["buzer"]

[[proximity]]
name = "close quarters"
cpa = "0.3 NM"

[feed]
priority = "none"

[[inputt]]
name = "gnss"

[[call_list]]
after = "10 min"
call = ["buzzer"]

[[outlet]]
name = "buzzer"
terminal = {}
"""


def check(path: Path, *options: str) -> tuple[int, str]:
    done = subprocess.run(
        [sys.executable, "-m", "shipkeeper.cli.main", "check", "--orders", str(path), *options],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.stderr == ""
    return done.returncode, done.stdout


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "orders.toml"


def test_ten_mistakes_in_one_run(path: Path) -> None:
    """All are printed, each with file:line, table, key and what was expected; exit 2."""
    path.write_text(TEN)
    code, said = check(path)
    assert code == 2
    rows = said.splitlines()
    assert rows[-1] == f"11 problems in {path}. Nothing was changed."
    for line, table, key, words in (
        (3, "[vessel]", "lenght", 'Did you mean "length"?'),
        (4, "[vessel]", "beam", 'expected a length with its unit, such as "50 m"; found 3.6'),
        (5, "[vessel]", "draught", 'found "1.8 s"'),
        (9, 'zone "inner guard zone"', "sector.to", "is missing; expected a length"),
        (10, 'zone "inner guard zone"', "confirm", 'such as "30 s"; found 5 without a unit'),
        (11, 'zone "inner guard zone"', "watches[2]", 'Did you mean "moored"?'),
        (12, 'zone "inner guard zone"', "call[1]", 'Did you mean "buzzer"?'),
        (14, 'proximity "close quarters"', "tcpa", "give cpa and tcpa, or range"),
        (19, "[feed]", "priority", "cannot be switched off"),
        (21, "[inputt]", "", "Did you mean [input]?"),
        (25, "call_list no. 1", "after", "at most 5 min: nobody may be left uncalled"),
    ):
        start = f"{path}:{line}: {table}:" + (f" {key}:" if key else "")
        assert any(row.startswith(start) and words in row for row in rows), (start, said)


def test_good_orders_end_with_0(path: Path) -> None:
    """Nothing is missing that these rules need."""
    path.write_text(BOAT + CIRCLE)
    code, said = check(path)
    assert code == 0, said
    assert said.splitlines()[-1].endswith("no warnings.")


def test_warnings_end_with_1(path: Path) -> None:
    """Drag by the reach of the rode, of a boat whose bow and antenna are not known."""
    path.write_text(BOAT + "[drag]\n")
    code, said = check(path)
    assert code == 1
    assert ":1: warning: [vessel]: antenna: not given: " in said


def test_explain_prints_every_default(path: Path) -> None:
    """The plain circle, its delays, and the feed rule that stands by itself."""
    path.write_text(BOAT + CIRCLE)
    code, said = check(path, "--explain")
    assert code == 0
    assert 'radius = "45 m"' in said and 'clear = "2 min"  (default)' in said
    assert "\nfeed: alarm\n" in said


def test_json_is_one_object(path: Path) -> None:
    """For scripts: the same problems, taken apart."""
    path.write_text(TEN)
    code, said = check(path, "--json")
    answer = json.loads(said)
    assert code == answer["code"] == 2
    assert len(answer["problems"]) == 11
    assert answer["problems"][0] == {
        "file": str(path),
        "line": 3,
        "table": "[vessel]",
        "key": "lenght",
        "expected": 'unknown key. Did you mean "length"? Expected a length with its unit, '
        'such as "50 m"',
        "found": '"11.4 m"',
        "text": answer["problems"][0]["text"],
    }


def test_no_file_is_refused(path: Path) -> None:
    """One line that says so, and 2."""
    code, said = check(path)
    assert code == 2
    assert said.startswith(f"{path}:1: orders file: cannot be read: no such file")
