"""The unit: valid, exposed no more than 1.5 of 10, waiting for neither network nor time."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

UNIT = Path(__file__).parents[2] / "systemd" / "shipkeeper.service"


@pytest.fixture
def analyze() -> str:
    found = shutil.which("systemd-analyze")
    assert found, "systemd-analyze is needed (Debian package systemd); CI installs it"
    return found


def test_exposure_is_at_most_one_and_a_half(analyze: str) -> None:
    """`systemd-analyze security --offline=true` on the unit as it stands."""
    said = subprocess.run(
        [analyze, "security", "--offline=true", "--no-pager", str(UNIT)],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    level = re.search(r"exposure level for shipkeeper\.service: ([\d.]+)", said)
    assert level is not None
    assert float(level[1]) <= 1.5


def test_systemd_itself_finds_nothing_wrong(analyze: str, tmp_path: Path) -> None:
    """`systemd-analyze verify` says nothing (with a program that exists on this machine)."""
    copy = tmp_path / UNIT.name
    copy.write_text(re.sub(r"^ExecStart=\S+", "ExecStart=/bin/true", UNIT.read_text(), flags=re.M))
    done = subprocess.run(
        [analyze, "verify", str(copy)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_a_missing_secret_does_not_keep_the_watch_from_starting() -> None:
    """systemd.exec(5): with SetCredential= of the same name, LoadCredential= of a file that is
    not there is no failure."""
    text = UNIT.read_text()
    loaded = set(re.findall(r"^LoadCredential=([^:]+):", text, re.M))
    assert loaded == set(re.findall(r"^SetCredential=([^:]+):", text, re.M))


def test_the_unit_starts_without_network_and_time() -> None:
    """An alarm must start without either (weather stations wait for the clock; we do not)."""
    text = UNIT.read_text()
    assert not re.search(r"^(After|Wants|Requires)=.*(network|time-sync)", text, re.M)
    for line in ("Type=notify", "WatchdogSec=10", "Restart=always", "DevicePolicy=closed"):
        assert f"\n{line}\n" in text
