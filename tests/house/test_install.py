"""What the install script puts on a computer: the files are there, the manual tells all."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.shell_completion import BashComplete
from click.testing import CliRunner

from shipkeeper.cli.main import VERBS, cli
from shipkeeper.cli.version import LIBRARIES

SYSTEMD = Path(__file__).parents[2] / "systemd"


@pytest.fixture(scope="module")
def manual() -> str:
    """shipkeeper(1) as systemd/manpage.py writes it at installation."""
    done = subprocess.run(
        [sys.executable, str(SYSTEMD / "manpage.py")], capture_output=True, text=True, check=True
    )
    return done.stdout


def every_verb() -> Iterator[tuple[str, click.Command]]:
    root = click.Context(cli, info_name="shipkeeper")
    for verb in VERBS:
        command = cli.get_command(root, verb)
        assert command is not None
        yield verb, command


def options_of(command: click.Command) -> list[str]:
    return [
        parameter.opts[0]
        for parameter in command.params
        if isinstance(parameter, click.Option) and not parameter.hidden
    ]


def test_the_manual_has_every_verb_and_option(manual: str) -> None:
    """It is made from click's own help, so this asks whether the making leaves anything out."""
    sections = {
        heading.split("\n", 1)[0]: heading
        for heading in manual.replace("\\-", "-").split("\n.SS ")[1:]
    }
    for verb, command in every_verb():
        (section,) = [
            text for heading, text in sections.items()
            if re.fullmatch(rf"shipkeeper {verb} [\[{{A-Z].*", heading)
        ]  # fmt: skip
        for option in options_of(command):
            assert option in section, (verb, option)


def test_every_verb_and_option_is_completed() -> None:
    """By what the shells ask of the program itself (click's shell completion)."""
    asked = BashComplete(cli, {}, "shipkeeper", "_SHIPKEEPER_COMPLETE")
    assert [one.value for one in asked.get_completions([], "")] == list(VERBS)
    for verb, command in every_verb():
        found = {one.value for one in asked.get_completions([verb], "--")}
        assert set(options_of(command)) <= found, verb
    assert {one.value for one in asked.get_completions(["anchor"], "")} >= {"here", "veer"}


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_completion_script_of_each_shell_can_be_had(shell: str) -> None:
    """As the install script asks for it; bash itself runs its own."""
    program = Path(sys.executable).with_name("shipkeeper")
    environment = {**os.environ, "PATH": f"{program.parent}:{os.environ['PATH']}"}
    script = subprocess.run(
        [str(program)], env={**environment, "_SHIPKEEPER_COMPLETE": f"{shell}_source"},
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    assert "_SHIPKEEPER_COMPLETE" in script and "shipkeeper" in script
    if shell == "bash":
        typed = "COMP_WORDS=(shipkeeper dia); COMP_CWORD=1; _shipkeeper_completion shipkeeper"
        done = subprocess.run(
            ["bash", "-c", f'{script}\n{typed}\necho "${{COMPREPLY[@]}}"'], env=environment,
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert done.stdout == "diagnose\n"


def test_the_version_tells_of_every_dependency() -> None:
    """Whatever pyproject.toml names for running; also what is not installed."""
    with (SYSTEMD.parent / "pyproject.toml").open("rb") as file:
        project = tomllib.load(file)["project"]
    named = {
        re.split(r"[<>=\[]", line)[0]
        for lines in (project["dependencies"], *project["optional-dependencies"].values())
        for line in lines
    } - {"shipkeeper"}
    assert set(LIBRARIES) == named
    said = CliRunner().invoke(cli, ["--version"])
    assert said.exit_code == 0
    for name in ("shipkeeper", "Python", "SQLite", *named):
        assert re.search(rf"^{re.escape(name)} (\d+\.[\w.]+|not installed)$", said.output, re.M)


def test_the_manual_is_sound_roff(manual: str, tmp_path: Path) -> None:
    """groff itself finds nothing to warn of (Debian package groff-base; where it is)."""
    groff = shutil.which("groff")
    assert groff, "groff is needed (Debian package groff-base); CI installs it"
    page = tmp_path / "shipkeeper.1"
    page.write_text(manual)
    done = subprocess.run(
        [groff, "-man", "-Tutf8", "-ww", "-z", str(page)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")


def test_the_script_is_sound_shell_and_knows_its_files() -> None:
    script = SYSTEMD / "install"
    subprocess.run(["sh", "-n", str(script)], check=True)
    for name in re.findall(r'"\$here/([^"]+)"', script.read_text()):
        assert (SYSTEMD / name).is_file(), name


def test_what_is_installed_is_what_is_taken_away() -> None:
    """Every path that the script writes to stands in the uninstalling part too."""
    text = (SYSTEMD / "install").read_text()
    removing = text[text.index("if [ $what = uninstall ]") : text.index("exit 0\nfi")]
    for name in ("opt", "udev", "tmpfiles", "watchdog", "bin", "man", "complete_bash",
                 "complete_zsh", "complete_fish"):  # fmt: skip
        assert f"${name}" in removing, name
    assert "$etc (orders" in removing and "rm -rf $etc" not in removing


def test_what_the_installation_refuses(tmp_path: Path) -> None:
    """A word it does not know: exit 2 and one clear line, before anything is touched."""
    done = subprocess.run(
        [str(SYSTEMD / "install"), "--colour"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2 and "--colour is not known" in done.stderr


def test_the_buzzer_that_says_down_needs_nothing_of_ours(tmp_path: Path) -> None:
    """It runs by the system's Python without our libraries, on bad orders, without a GPIO chip,
    and ends well, so that the watch is tried again."""
    bad = tmp_path / "bad.toml"
    bad.write_text("[vessel\n")
    orders = tmp_path / "orders.toml"
    orders.write_text('[[outlet]]\nname = "b"\nbuzzer = { chip = "/dev/no-chip", line = 3 }\n')
    done = subprocess.run(
        [sys.executable, "-I", "-S", str(SYSTEMD / "sound-down"), "--for", "0.1", str(bad),
         str(orders)],
        capture_output=True, text=True, check=False, timeout=20,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "THE WATCH IS DOWN" in done.stdout and "/dev/no-chip" in done.stdout
