"""A real MQTT broker (Debian's mosquitto) on loopback: plain, or with TLS and passwords."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import threading
import time
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from .closing import Closing


def program(name: str, package: str) -> str:
    """The path of a program that the tests need."""
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin")
    assert found, f"{name} is needed (Debian package {package}); CI installs it"
    return found


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


def answers(port: int, within_s: float = 30.0) -> None:
    """Until something listens there."""
    edge_s = time.monotonic() + within_s
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return
        except OSError:
            if time.monotonic() > edge_s:
                raise
            time.sleep(0.02)


def certificate(folder: Path) -> tuple[Path, Path]:
    """(certificate, key) of 127.0.0.1, signed by itself, so that it is its own authority."""
    pem, key = folder / "broker.pem", folder / "broker.key"
    subprocess.run(
        [program("openssl", "openssl"), "req", "-x509", "-newkey", "ec", "-pkeyopt",
         "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2", "-subj", "/CN=127.0.0.1",
         "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(key), "-out", str(pem)],
        check=True, capture_output=True,
    )  # fmt: skip
    return pem, key


class Broker(Closing):
    """`stop` and `start` it again on the same port: what it kept is kept in its file."""

    def __init__(self, folder: Path, *, user: str = "", password: str = "", tls: bool = False):
        self.port = free_port()
        self.address = f"127.0.0.1:{self.port}"
        lines = [f"listener {self.port} 127.0.0.1", "persistence true",
                 f"persistence_location {folder}/", "autosave_on_changes true",
                 "autosave_interval 1", "max_queued_messages 0"]  # fmt: skip
        if os.geteuid() == 0:
            lines.append("user root")  # else it may not read the folder of the test
        self.ca: Path | None = None
        if tls:
            self.ca, key = certificate(folder)
            lines += [f"certfile {self.ca}", f"keyfile {key}"]
        self.user, self.password = user, password
        if user:
            listed = folder / "passwords"
            subprocess.run(
                [program("mosquitto_passwd", "mosquitto"), "-b", "-c", str(listed), user, password],
                check=True, capture_output=True,
            )  # fmt: skip
            lines += ["allow_anonymous false", f"password_file {listed}"]
        else:
            lines.append("allow_anonymous true")
        self._conf = folder / "mosquitto.conf"
        self._conf.write_text("\n".join(lines) + "\n")
        self.start()

    def start(self) -> None:
        self._process = subprocess.Popen(
            [program("mosquitto", "mosquitto"), "-c", str(self._conf)],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        answers(self.port)

    def stop(self) -> None:
        self._process.terminate()
        self._process.wait(30)

    def close(self) -> None:
        self.stop()


class Subscriber(Closing):
    """Hears everything below `topic` and keeps it: `kept` as a retained view, `said` in order."""

    def __init__(self, broker: Broker, topic: str = "#") -> None:
        self.kept: dict[str, bytes] = {}
        self.said: list[tuple[str, bytes, bool]] = []
        self._topic = topic
        self._came = threading.Condition()
        self.client = Client(CallbackAPIVersion.VERSION2)
        if broker.user:
            self.client.username_pw_set(broker.user, broker.password)
        if broker.ca is not None:
            self.client.tls_set(ca_certs=str(broker.ca))
        self.client.on_connect = self._connected
        self.client.on_message = self._heard
        self._ready = threading.Event()
        self.client.on_subscribe = lambda *_: self._ready.set()
        self.client.connect("127.0.0.1", broker.port)
        self.client.loop_start()
        assert self._ready.wait(30), "the broker took no subscription"

    def until(self, found: Any, within_s: float = 30.0) -> Any:
        """The first true answer of found(self)."""
        with self._came:
            assert self._came.wait_for(lambda: found(self), within_s), (self.kept, self.said[-5:])
            return found(self)

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()

    def _connected(self, client: Client, data: Any, flags: Any, code: Any, more: Any) -> None:
        client.subscribe(self._topic, 1)

    def _heard(self, client: Client, data: Any, message: MQTTMessage) -> None:
        with self._came:
            payload = bytes(message.payload)
            self.said.append((message.topic, payload, message.retain))
            if payload:
                self.kept[message.topic] = payload
            else:
                self.kept.pop(message.topic, None)
            self._came.notify_all()
