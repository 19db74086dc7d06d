"""`shipkeeper diagnose`: all that a bug report wants, in one file, without secrets."""

from __future__ import annotations

import io
import json
import os
import platform
import shutil
import subprocess
import sys
import tarfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import click

from ..app import paths
from ..orders.blot import blotter, references
from .ask import REFUSED, Place, ask, finding
from .version import versions

MOST_SECRET_BYTES = 65_536
RUN_S = 15.0

TELLS = {
    "versions.txt": "versions of shipkeeper, Python, libraries and the system",
    "orders.toml": "your orders, secrets left out",
    "check.txt": "what `shipkeeper check` says of them",
    "status.json": "what the running watch says of itself",
    "journal.jsonl": "the last rows of the journal: alerts, commands, news of wires",
    "service.txt": "the service and the last lines of its log, from systemd",
}


@click.command()
@finding
@click.option("--output", type=click.Path(path_type=Path), default=None,
              help="The file to write (default shipkeeper-diagnose-TIME.tar.gz here).")  # fmt: skip
@click.option("--lines", type=click.IntRange(0, 100_000), default=500, show_default=True,
              help="Rows of the journal.")  # fmt: skip
def diagnose(place: Place, output: Path | None, lines: int) -> None:
    """Pack versions, orders without secrets, status and the last journal rows for a bug report.

    Works also when no watch runs. Read what it says that the file holds before you hand it on.
    Ends with 1 when something could not be had; the file says what.
    """
    orders = place.orders or paths.ORDERS
    target = output or Path(f"shipkeeper-diagnose-{datetime.now(UTC):%Y%m%dT%H%M%SZ}.tar.gz")
    text, secrets, unread = _orders(orders)
    blot = blotter(secrets)
    made: dict[str, str] = {}
    lacking: list[str] = []
    members: dict[str, Callable[[], str]] = {
        "versions.txt": lambda: "\n".join((versions(), *_system())),
        "orders.toml": lambda: text,
        "check.txt": lambda: _check(orders),
        "status.json": lambda: json.dumps(_status(place), indent=1),
        "journal.jsonl": lambda: _journal(place, lines),
        "service.txt": _service,
    }
    for name, make in members.items():
        try:
            made[name] = blot(make()) + "\n"
        except _Lacking as why:
            lacking.append(f"{name}: {why}")
    made["README.txt"] = _contents(made, lacking, unread)
    try:
        _pack(target, made)
    except OSError as error:
        click.echo(f"refused: {target}: {error.strerror}", err=True)
        sys.exit(REFUSED)
    click.echo(f"{target} holds:\n{made['README.txt']}", nl=False)
    sys.exit(1 if lacking else 0)


class _Lacking(Exception):
    """Why a part is not there."""


def _orders(path: Path) -> tuple[str, list[str], list[str]]:
    """(text or why there is none, secrets' texts, names of secrets that we may not read)."""
    try:
        with path.open("rb") as file:
            text = file.read(1_000_000).decode("utf-8", "replace")
    except OSError as error:
        return f"# {path} cannot be read: {error.strerror}", [], []
    secrets, unread = [], []
    for name in references(text):
        file_name = name.removeprefix("credential:")
        # Where the service takes its credentials from.
        secret = Path(name) if name == file_name else paths.ORDERS.parent / file_name
        try:
            if not secret.is_file() or secret.stat().st_mode & 0o004:
                continue  # a port, a socket, or what everybody may read: no secret
            with secret.open("rb") as file:
                secrets.append(file.read(MOST_SECRET_BYTES).decode("utf-8", "replace"))
        except OSError:
            unread.append(name)
    return text, secrets, unread


def _system() -> list[str]:
    lines = [f"system {platform.platform()}", f"machine {platform.machine()}"]
    with_os = Path("/etc/os-release")
    if with_os.is_file():
        rows = with_os.read_text("utf-8", "replace").splitlines()
        lines += [row for row in rows if row.startswith(("PRETTY_NAME", "VERSION_ID"))]
    lines.append(f"written {datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}; zone {time.tzname[0]}")
    return lines


def _check(path: Path) -> str:
    from ..app.kinds import KINDS
    from ..orders import read_file

    orders, problems, remarks = read_file(path, KINDS)
    said = [one.told(path.name) for one in (*problems, *remarks)]
    said.append("refused" if orders is None else f"good orders, {len(orders.rules)} rules")
    return "\n".join(said)


def _status(place: Place) -> dict[str, object]:
    try:
        return dict(ask(place, "status", {}))
    except SystemExit:
        raise _Lacking("no daemon reached") from None


def _journal(place: Place, lines: int) -> str:
    from ..store import StoreFailed
    from .log import rows

    if not lines:
        return ""
    try:
        return "\n".join(
            json.dumps({"kind": kind, **json.loads(line)}, ensure_ascii=False)
            for kind, line in rows(place, lines, ())
        )
    except StoreFailed as failed:
        raise _Lacking(str(failed)) from None
    except SystemExit:
        raise _Lacking("no journal to read") from None


def _service() -> str:
    """Best effort: on a bench there is no service."""
    if not Path("/run/systemd/system").is_dir():
        raise _Lacking("no systemd runs here")
    said = []
    for words in (
        ["systemctl", "status", "--no-pager", "--lines=0", "shipkeeper", "shipkeeper-down"],
        ["journalctl", "--no-pager", "--lines=200", "--unit=shipkeeper"],
    ):
        tool = shutil.which(words[0])
        if tool is None:
            continue
        try:
            done = subprocess.run(
                [tool, *words[1:]], capture_output=True, text=True, timeout=RUN_S, check=False,
                errors="replace",
            )  # fmt: skip
        except subprocess.TimeoutExpired:
            said.append(f"{words[0]}: no answer in {RUN_S:.0f} s")
            continue
        said.append(done.stdout + done.stderr)
    return "\n".join(said)


def _contents(made: dict[str, str], lacking: list[str], unread: list[str]) -> str:
    rows = [f"  {name:<14} {TELLS[name]}" for name in made]
    rows += [f"  not there: {line}" for line in lacking]
    rows += [
        "Left out: what your secret files hold, URLs, passwords, tokens, keys, telephone numbers.",
        "In it still: where the boat was, names and MMSIs of ships, names of people in the orders.",
    ]
    if unread:
        rows.append(
            f"Not readable, so only what looks like a secret was left out: {', '.join(unread)};"
            " as root it is surer."
        )
    return "\n".join(rows) + "\n"


def _pack(target: Path, made: dict[str, str]) -> None:
    """A new file for its owner alone; none that is there is replaced."""
    stamp = int(time.time())
    number = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(number, "wb") as file, tarfile.open(fileobj=file, mode="w:gz") as pack:
        for name, text in made.items():
            data = text.encode("utf-8", "replace")
            info = tarfile.TarInfo(f"shipkeeper-diagnose/{name}")
            info.size, info.mtime, info.mode = len(data), stamp, 0o600
            pack.addfile(info, io.BytesIO(data))
