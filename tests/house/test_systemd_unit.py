"""The units: valid, exposed no more than 1.5 of 10, waiting for neither network nor time."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from shipkeeper.app.health import FEEDINGS, LIMITS_S
from shipkeeper.app.statefolder import OPEN_WITHIN_S
from shipkeeper.cli.main import cli

SYSTEMD = Path(__file__).parents[2] / "systemd"
WATCH = SYSTEMD / "shipkeeper.service"
DOWN = SYSTEMD / "shipkeeper-down.service"
ASHORE = SYSTEMD / "shipkeeper-ashore.service"
SLOW_START_S = 4.6  # the slowest that was measured (tests/rig, an emulated processor)
UNITS = pytest.mark.parametrize("unit", [WATCH, DOWN], ids=lambda path: path.stem)


@pytest.fixture
def analyze() -> str:
    found = shutil.which("systemd-analyze")
    assert found, "systemd-analyze is needed (Debian package systemd); CI installs it"
    return found


@pytest.mark.parametrize("unit", [WATCH, DOWN, ASHORE], ids=lambda path: path.stem)
def test_exposure_is_at_most_one_and_a_half(analyze: str, unit: Path) -> None:
    """`systemd-analyze security --offline=true` on the unit as it stands."""
    said = subprocess.run(
        [analyze, "security", "--offline=true", "--no-pager", str(unit)],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    level = re.search(rf"exposure level for {unit.name}: ([\d.]+)", said)
    assert level is not None
    assert float(level[1]) <= 1.5


def test_systemd_itself_finds_nothing_wrong(analyze: str, tmp_path: Path) -> None:
    """`systemd-analyze verify` says nothing (with programs that exist on this machine)."""
    copies = []
    for unit in (WATCH, DOWN, ASHORE):
        copy = tmp_path / unit.name
        text = re.sub(r"^ExecStart=\S+", "ExecStart=/bin/true", unit.read_text(), flags=re.M)
        text = re.sub(r"^(ExecStopPost=\+)/bin/systemctl", r"\1/bin/true", text, flags=re.M)
        copy.write_text(text.replace("Documentation=man:shipkeeper(1)\n", ""))
        copies.append(str(copy))
    done = subprocess.run([analyze, "verify", *copies], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_the_unit_ashore_calls_a_verb_that_is_there() -> None:
    """The verb takes its command line, up to the secrets that only systemd hands out."""
    line = re.search(r"^ExecStart=\S+ ((?:.*\\\n)*.*)$", ASHORE.read_text(), re.M)
    assert line is not None
    words = line[1].replace("\\\n", " ").split()
    said = CliRunner().invoke(cli, words, env={"CREDENTIALS_DIRECTORY": ""})
    assert said.exit_code == 2 and "no systemd credentials here" in said.output


def test_a_missing_secret_does_not_keep_the_watch_from_starting() -> None:
    """systemd.exec(5): with SetCredential= of the same name, LoadCredential= of a file that is
    not there is no failure."""
    text = WATCH.read_text()
    loaded = set(re.findall(r"^LoadCredential=([^:]+):", text, re.M))
    assert loaded == set(re.findall(r"^SetCredential=([^:]+):", text, re.M))


@UNITS
def test_the_units_start_without_network_and_time(unit: Path) -> None:
    """An alarm must start without either (weather stations wait for the clock; we do not)."""
    assert not re.search(r"^(After|Wants|Requires)=.*(network|time-sync)", unit.read_text(), re.M)


def test_the_watch_is_notified_watched_and_restarted() -> None:
    text = WATCH.read_text()
    for line in (
        "Type=notify",
        "WatchdogSec=6",
        "Restart=always",
        "DevicePolicy=closed",
        "OnFailure=shipkeeper-down.service",
    ):
        assert f"\n{line}\n" in text


def test_a_hang_is_over_within_fifteen_seconds() -> None:
    """alerts.md, feature 96. The start has the rest of it, SLOW_START_S and more."""
    text = WATCH.read_text()
    watchdog_s, restart_s = (
        float(re.findall(rf"^{key}=(\d+)$", text, re.M)[0]) for key in ("WatchdogSec", "RestartSec")
    )
    for part in ("engine", "sounder"):
        assert LIMITS_S[part] + watchdog_s + restart_s <= 15.0 - 4.0
    # And what is no hang is none: all stopped for four seconds, by a slow card.
    assert watchdog_s - watchdog_s / FEEDINGS >= 4.0


def test_one_of_the_two_is_always_to_come() -> None:
    """Failed five times, the watch hands over to the buzzer; however that ends, the watch is
    tried again, and the start limit that it met is forgotten."""
    text = DOWN.read_text()
    for line in (
        "OnSuccess=shipkeeper.service",
        "OnFailure=shipkeeper.service",
        "StartLimitIntervalSec=0",
        "ExecStopPost=+/bin/systemctl reset-failed shipkeeper.service",
    ):
        assert f"\n{line}\n" in text


def test_a_start_that_hangs_is_told_by_sound() -> None:
    """systemd.service(5): SERVICE_RESULT is "timeout" then. Five of them take longer than the
    interval of the start limit, so the limit alone would never hand over to the buzzer; and a
    slow board, whose store does not answer either, must have the time to start in."""
    text = WATCH.read_text()
    timeout_s, restart_s, interval_s, burst = (
        float(re.findall(rf"^{key}=(\d+)$", text, re.M)[0])
        for key in ("TimeoutStartSec", "RestartSec", "StartLimitIntervalSec", "StartLimitBurst")
    )
    assert burst * (timeout_s + restart_s) > interval_s
    assert 4 * SLOW_START_S + OPEN_WITHIN_S < timeout_s <= 60.0
    assert "\nTimeoutStartFailureMode=kill\n" in text  # else up to TimeoutStopSec longer
    (line,) = re.findall(r"^ExecStopPost=\+/bin/sh -c '(.*)'$", text, re.M)
    script = line.replace("$$", "$").replace("systemctl", "echo")
    for result, asked in (
        ("timeout", "--no-block start shipkeeper-down.service"),
        ("watchdog", ""),
    ):
        done = subprocess.run(
            ["/bin/sh", "-c", script], env={"SERVICE_RESULT": result}, capture_output=True,
            text=True, check=True,
        )  # fmt: skip
        assert done.stdout.strip() == asked


def test_every_credential_of_the_example_orders_is_handed_over() -> None:
    """Else the example, copied, has a phone that is never rung."""
    unit = WATCH.read_text()
    config = SYSTEMD.parent / "config"
    named = {
        name
        for path in config.glob("*.toml")
        for name in re.findall(r'"credential:([\w.-]+)"', path.read_text())
    }
    assert "push-mate" in named
    for name in sorted(named):
        assert f"LoadCredential={name}:/etc/shipkeeper/{name}\n" in unit, name
        assert f"SetCredential={name}:" in unit, name
