"""Asking the daemon: one request over the control socket, one answer, the exit code.

Kept free of heavy imports: a person woken at 3 a.m. waits for `shipkeeper ack` to start.
"""

from __future__ import annotations

import json
import socket
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import click

from ..app.paths import daemon_socket
from .show import clean

WAIT_S = 15.0
NO_DAEMON = 3
REFUSED = 2

F = TypeVar("F", bound=Callable[..., Any])


class Place:
    """Where to find the daemon, from the options that every verb has."""

    def __init__(self, orders: Path | None, state: Path | None, control: Path | None) -> None:
        self.orders, self.state, self.control = orders, state, control

    def socket(self) -> Path:
        return daemon_socket(self.control, self.state)


def finding(function: F) -> F:
    """The options by which every verb finds the daemon; it is handed a `place`."""

    def take(name: str) -> Callable[[click.Context, click.Parameter, Path | None], None]:
        def callback(ctx: click.Context, param: click.Parameter, value: Path | None) -> None:
            place = ctx.params.setdefault("place", Place(None, None, None))
            setattr(place, name, value)

        return callback

    path = click.Path(path_type=Path)
    for flag, name, text in (
        ("--socket", "control", "The daemon's control socket."),
        ("--state", "state", "The daemon's state folder, when it is not the boat's own."),
        ("--orders", "orders", "The orders file (default /etc/shipkeeper/orders.toml)."),
    ):
        option = click.option(
            flag, name, type=path, default=None, expose_value=False, callback=take(name), help=text
        )
        function = option(function)
    return function


def asking(function: F) -> F:
    """As `finding`, and --json."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON.")(finding(function))


def ask(place: Place, verb: str, args: dict[str, Any], where: str = "aboard") -> dict[str, Any]:
    """The daemon's answer: code, text, data. Ends the program with 3 when none is reached."""
    path = place.socket()
    request = {"verb": verb, "args": {k: v for k, v in args.items() if v is not None}}
    request["where"] = where
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as wire:
            wire.settimeout(WAIT_S)
            wire.connect(str(path))
            wire.sendall(json.dumps(request).encode() + b"\n")
            with wire.makefile("rb") as lines:
                raw = lines.readline()
    except OSError as error:
        _unreached(path, error.strerror or str(error))
    if not raw:
        _unreached(path, "it closed without an answer")
    answer = json.loads(raw)
    assert isinstance(answer, dict)
    return answer


def say(
    answer: dict[str, Any], as_json: bool, text: Callable[[dict[str, Any]], str] | None = None
) -> NoReturn:
    """Print an answer, as JSON or for a person, and end with its code."""
    code = int(answer["code"])
    words = clean(str(answer["text"]), lines=True)
    if as_json:
        click.echo(json.dumps({"code": code, "text": words, **answer["data"]}))
    elif code >= REFUSED:
        click.echo(f"refused: {words}", err=True)
    else:
        click.echo(text(answer["data"]) if text is not None else words)
    sys.exit(code)


def _unreached(path: Path, why: str) -> NoReturn:
    click.echo(f"no daemon reached at {path}: {why.lower()}", err=True)
    sys.exit(NO_DAEMON)
