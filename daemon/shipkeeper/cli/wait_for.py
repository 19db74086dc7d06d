"""`shipkeeper wait-for`: a second copy ashore, which raises the alarm when a boat falls silent."""

from __future__ import annotations

import signal
import threading
import time

import click
import msgspec

from ..app import paths
from ..app.ashore import Listener, Told, Waiting, reachable
from ..app.calling_ashore import Caller
from ..words.beat import Beat, key_of
from .quantities import time as duration

LOOK_S = 1.0


@click.command("wait-for")
@click.argument("boat")
@click.option(
    "--listen", default="127.0.0.1:8099", show_default=True, metavar="ADDRESS:PORT",
    help="Where the boat's heartbeat comes in.",
)  # fmt: skip
@click.option("--key", required=True, help="File with the shared key (credential:NAME too).")
@click.option("--late", callback=duration, default="4 min", show_default=True,
              help="Silent for so long is an alarm.")  # fmt: skip
@click.option("--repeat", callback=duration, default="10 min", show_default=True,
              help="Told again while it lasts.")  # fmt: skip
@click.option("--push", "urls", help="File with the addresses of the people to call.")
@click.option("--net", metavar="HOST:PORT", help="Answers when the link of this end is alive.")
@click.option(
    "--boat-link", metavar="HOST:PORT", help="The boat's router: answers when boat and link live."
)
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line.")
def wait_for(
    boat: str,
    listen: str,
    key: str,
    late: float,
    repeat: float,
    urls: str | None,
    net: str | None,
    boat_link: str | None,
    as_json: bool,
) -> None:
    """Wait ashore for the signs of life of BOAT, and raise the alarm when none come.

    The boat sends them with a [[outlet]] heartbeat that has the same key. With --net and
    --boat-link a dead link here, a dead boat and a dead watch are told apart.
    """
    host, _, port = listen.rpartition(":")
    if not host or not port.isdigit() or int(port) > 65535:
        raise click.UsageError("--listen is ADDRESS:PORT, for example 127.0.0.1:8099")
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    lock = threading.Lock()
    waiting = Waiting(boat, late, repeat, time.monotonic())
    caller: Caller | None = None

    def tell(told: Told | None) -> None:
        if told is None:
            return
        said = msgspec.json.encode(told).decode() if as_json else f"{told.title}: {told.text}"
        click.echo(said)
        if caller is not None:
            caller.call(told)

    def heard(beat: Beat) -> None:
        with lock:
            told = waiting.hear(beat, time.monotonic())
        tell(told)

    try:
        secret = key_of(paths.secret(key))
        caller = Caller(urls, lambda text: click.echo(text, err=True)) if urls else None
        listener = Listener((host.strip("[]"), int(port)), secret, heard)
    except (OSError, ValueError) as error:
        click.echo(f"wait-for: {getattr(error, 'strerror', None) or error}", err=True)
        raise SystemExit(2) from None
    if not as_json:
        click.echo(f"waiting for {boat} at {host}:{listener.port}; silent for {late:g} s is told")
    try:
        while not stop.wait(LOOK_S):
            now_s = time.monotonic()
            with lock:
                due = waiting.due(now_s)
            if not due:
                continue
            reached = (
                reachable(net) if net else None,
                reachable(boat_link) if boat_link else None,
            )
            with lock:
                told = waiting.judge(time.monotonic(), *reached)
            tell(told)
    finally:
        listener.close()
        if caller is not None:
            caller.close()
