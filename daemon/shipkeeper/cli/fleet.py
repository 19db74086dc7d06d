"""`shipkeeper fleet`: every boat of a broker on one page, the newest trouble first.

Read from retained state alone (outlets/mqtt_words.py): nothing is asked of any boat, so a hundred
cost one subscription. A boat that is offline, or whose sign of life is old, is trouble too.
"""

from __future__ import annotations

import json
import ssl
import sys
import threading
import time
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from ..app.paths import secret
from .show import clean, span, table

UNREACHED = 3
MISSED = 3  # signs of life that may lack
QUIET_S = 0.5  # retained messages come at once: with none for so long, all are here
MOST = 4096  # bytes of a message that are looked at


class Fleet:
    """What was heard of each boat. Text from a broker is taken on trust in nothing."""

    def __init__(self, base: str) -> None:
        self._base = base.strip("/")
        self.boats: dict[str, dict[str, Any]] = {}

    def take(self, topic: str, payload: bytes) -> None:
        levels = topic.removeprefix(f"{self._base}/").split("/")
        if len(levels) < 2 or not topic.startswith(f"{self._base}/"):
            return
        boat = self.boats.setdefault(levels[0], {"alerts": {}, "watch": {}, "online": None})
        if levels[1] == "availability":
            boat["online"] = payload == b"online"
            return
        try:
            body = json.loads(payload[:MOST]) if payload else None
        except ValueError:
            return
        if levels[1] == "watch" and isinstance(body, dict):
            boat["watch"] = body
        elif levels[1] == "alert" and len(levels) == 3:
            if isinstance(body, dict) and body.get("state") != "normal":
                boat["alerts"][levels[2]] = body
            else:
                boat["alerts"].pop(levels[2], None)

    def rows(self, now_s: float) -> list[dict[str, Any]]:
        """One a boat: those in trouble by its age, the newest first; then the rest by name."""
        rows = [_row(name, boat, now_s) for name, boat in self.boats.items()]
        return sorted(rows, key=lambda r: (not r["trouble"], -(r["since_s"] or 0.0), r["boat"]))


def _row(name: str, boat: dict[str, Any], now_s: float) -> dict[str, Any]:
    watch, alerts = boat["watch"], list(boat["alerts"].values())
    seen_s = _seconds(watch.get("sent"))
    every_s = watch.get("every_s")
    every_s = float(every_s) if isinstance(every_s, int | float) else 30.0
    age_s = None if seen_s is None else max(0.0, now_s - seen_s)
    times = [(_seconds(a.get("at")) or 0.0, a) for a in alerts]
    newest_s: float | None = None
    newest: dict[str, Any] = {}
    if times:
        newest_s, newest = max(times, key=lambda pair: pair[0])
    state, since_s = "well", newest_s
    if boat["online"] is not True:
        state, since_s = "OFFLINE", seen_s
    elif age_s is None or age_s > MISSED * every_s:
        state, since_s = "NO SIGN OF LIFE", seen_s
    elif alerts:
        state = "trouble"
    return {
        "boat": name,
        "vessel": str(watch.get("vessel") or name),
        "state": state,
        "trouble": state != "well",
        "watch": str(watch.get("watch") or "-"),
        "crew": str(watch.get("crew") or "-"),
        "alerts": len(alerts),
        "worst": str(watch.get("worst") or "-") if alerts else "-",
        "what": str(newest.get("title") or ""),
        "since_s": since_s,
        "since_ago_s": None if since_s is None else max(0.0, now_s - since_s),
        "seen_ago_s": age_s,
    }


def _seconds(text: Any) -> float | None:
    try:
        return datetime.fromisoformat(str(text)).timestamp()
    except ValueError:
        return None


def fleet_text(rows: list[dict[str, Any]]) -> str:
    """A table for a person."""
    if not rows:
        return "no boats on this broker"
    heads = ("vessel", "state", "since", "watch", "crew", "alerts", "worst", "what", "seen")
    cells = [
        (
            row["vessel"][:24],
            row["state"],
            span(row["since_ago_s"]) if row["trouble"] else "-",
            row["watch"],
            row["crew"],
            str(row["alerts"]),
            row["worst"],
            row["what"][:16],
            span(row["seen_ago_s"]),
        )
        for row in rows
    ]
    bad = sum(row["trouble"] for row in rows)
    return f"{len(rows)} boats, {bad} in trouble\n" + table(heads, cells, right="since,alerts,seen")


def listen(
    fleet: Fleet,
    address: str,
    base: str,
    user: str,
    password: str,
    tls: bool,
    ca: str,
    wait_s: float,
) -> str:
    """Hear what the broker keeps; '' or why not."""
    from paho.mqtt.client import Client
    from paho.mqtt.enums import CallbackAPIVersion

    from ..words.address import host_port

    ready, refused = threading.Event(), list[str]()
    heard = [time.monotonic()]
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect_timeout = wait_s
    if user:
        client.username_pw_set(user, password or None)
    if tls or ca:
        client.tls_set_context(ssl.create_default_context(cafile=ca or None))

    def connected(c: Client, data: Any, flags: Any, code: Any, more: Any) -> None:
        if code.is_failure:
            refused.append(str(code).lower())
            ready.set()
        else:
            c.subscribe([(f"{base}/+/availability", 1), (f"{base}/+/watch", 1),
                         (f"{base}/+/alert/+", 1)])  # fmt: skip

    def message(c: Client, data: Any, m: Any) -> None:
        heard[0] = time.monotonic()
        fleet.take(m.topic, bytes(m.payload))

    client.on_connect, client.on_message = connected, message
    client.on_subscribe = lambda *_: ready.set()
    host, port = host_port(address)
    try:
        client.connect(host, port)
    except OSError as error:
        return str(error.strerror or error).lower()
    client.loop_start()
    try:
        if not ready.wait(wait_s):
            return "no answer in time"
        if refused:
            return refused[0]
        heard[0] = time.monotonic()
        edge_s = time.monotonic() + wait_s
        while time.monotonic() - heard[0] < QUIET_S and time.monotonic() < edge_s:
            time.sleep(0.05)
    finally:
        client.disconnect()
        client.loop_stop()
    return ""


@click.command()
@click.argument("broker")
@click.option("--base", default="shipkeeper", show_default=True, help="First level of topics.")
@click.option("--user", default="", help="Login at the broker.")
@click.option("--password", "password_file", default="", help="A file that holds the password.")
@click.option("--tls", is_flag=True, help="Over TLS.")
@click.option("--ca", default="", help="A file with the authority to trust.")
@click.option("--wait", "wait_s", default=10.0, show_default=True, help="Seconds at most.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def fleet(
    broker: str, base: str, user: str, password_file: str, tls: bool, ca: str, wait_s: float,
    as_json: bool,
) -> None:  # fmt: skip
    """Every boat of the BROKER (host:port), the newest trouble first.

    Ends with 1 when a boat is in trouble, with 3 when the broker is not reached.
    """
    known = Fleet(base)
    try:
        password = secret(str(Path(password_file).absolute())) if password_file else ""
        why = listen(known, broker, base.strip("/"), user, password, tls, ca, wait_s)
    except (OSError, ValueError) as error:
        click.echo(f"refused: {getattr(error, 'strerror', None) or error}", err=True)
        sys.exit(2)
    except ImportError:
        click.echo("fleet needs the extra: pip install 'shipkeeper[mqtt]'", err=True)
        sys.exit(2)
    if why:
        click.echo(f"no broker reached at {broker}: {why}", err=True)
        sys.exit(UNREACHED)
    rows = known.rows(time.time())
    click.echo(json.dumps({"boats": rows}) if as_json else clean(fleet_text(rows), lines=True))
    sys.exit(1 if any(row["trouble"] for row in rows) else 0)
