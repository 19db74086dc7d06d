"""A server of the Signal K format on loopback: greets, asks for a token, keeps notifications.

It holds every message that it gets or sends to the published schema (tests/data/signalk).
"""

from __future__ import annotations

import json
import ssl
import threading
import time
from collections.abc import Callable
from functools import cache
from http import HTTPStatus
from pathlib import Path
from typing import Any

from jsonschema import Draft4Validator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT4
from websockets.exceptions import ConnectionClosed
from websockets.http11 import Request, Response
from websockets.sync.server import Server, ServerConnection, serve

from .closing import Closing

SCHEMAS = Path(__file__).parents[1] / "data" / "signalk"
SELF = "vessels.urn:mrn:signalk:uuid:6b0e776f-811a-4b35-980e-b93405371bc5"


@cache
def validator(name: str, part: str = "") -> Draft4Validator:
    """Of one schema file, its references read from the files beside it."""
    registry: Registry[Any] = Registry()
    for path in SCHEMAS.rglob("*.json"):
        body = json.loads(path.read_text())
        found = Resource.from_contents(body, default_specification=DRAFT4)
        registry = registry.with_resource(body["id"].rstrip("#"), found)
    home = json.loads((SCHEMAS / name).read_text())["id"].rstrip("#")
    return Draft4Validator({"$ref": f"{home}#{part}"}, registry=registry)


class DeltaServer(Closing):
    """`say` sends to every client; `got` is what they sent; `kept` the notifications now."""

    def __init__(self, token: str = "", port: int = 0, tls: ssl.SSLContext | None = None) -> None:
        self._token, self.port, self._tls = token, port, tls
        self.got: list[dict[str, Any]] = []
        self.kept: dict[str, Any] = {}
        self.others: dict[str, Any] = {}  # notifications of somebody else
        self._came = threading.Condition()
        self._clients: list[ServerConnection] = []
        self.start()

    @property
    def address(self) -> str:
        return f"127.0.0.1:{self.port}"

    def start(self) -> None:
        self._server: Server = serve(
            self._talk, "127.0.0.1", self.port, process_request=self._admit, ssl=self._tls
        )
        self.port = int(self._server.socket.getsockname()[1])
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._server.shutdown()
        for client in list(self._clients):
            client.close()
        self._thread.join(5)

    def say(self, *values: tuple[str, Any], context: str = SELF, source: str = "boat",
            stamp: str = "") -> None:  # fmt: skip
        """One delta, all values of one moment."""
        update = {"$source": source, "timestamp": stamp or now(),
                  "values": [{"path": path, "value": value} for path, value in values]}  # fmt: skip
        body = {"context": context, "updates": [update]}
        validator("delta.json").validate(body)
        for client in list(self._clients):
            client.send(json.dumps(body))

    def raw(self, text: str | bytes) -> None:
        for client in list(self._clients):
            client.send(text)

    def until(self, found: Callable[[], Any], within_s: float = 30.0) -> Any:
        with self._came:
            assert self._came.wait_for(found, within_s), (self.kept, self.got[-3:])
            return found()

    def clients(self) -> int:
        return len(self._clients)

    def _admit(self, connection: ServerConnection, request: Request) -> Response | None:
        given = request.headers.get("Authorization", "")
        if self._token and given != f"Bearer {self._token}":
            return connection.respond(HTTPStatus.UNAUTHORIZED, "no\n")
        if not request.path.startswith("/signalk/v1/stream?subscribe="):
            return connection.respond(HTTPStatus.NOT_FOUND, "no\n")
        return None

    def _talk(self, client: ServerConnection) -> None:
        hello = {"name": "a test", "version": "1.5.1", "self": SELF, "roles": ["master", "main"],
                 "timestamp": now()}  # fmt: skip
        validator("hello.json").validate(hello)
        client.send(json.dumps(hello))
        try:
            for text in client:
                self._take(client, json.loads(text))
        except ConnectionClosed:
            pass
        finally:
            if client in self._clients:
                self._clients.remove(client)

    def _take(self, client: ServerConnection, body: dict[str, Any]) -> None:
        if "subscribe" in body:
            validator("messages/subscribe.json").validate(body)
            known = {**self.kept, **self.others}
            if known and body["subscribe"][0]["path"] == "notifications.*":
                # As a server does: all that it remembers, at once.
                values = [{"path": p, "value": v} for p, v in known.items()]
                update = {"$source": "x", "timestamp": now(), "values": values}
                client.send(json.dumps({"context": SELF, "updates": [update]}))
            if client not in self._clients:
                self._clients.append(client)
        else:
            validator("delta.json").validate(body)
        with self._came:
            self.got.append(body)
            for update in body.get("updates", ()):
                for item in update["values"]:
                    if item["value"] is None:
                        self.kept.pop(item["path"], None)
                    else:
                        self.kept[item["path"]] = item["value"]
            self._came.notify_all()

    def close(self) -> None:
        self.stop()


def now(ago_s: float = 0.0) -> str:
    moment = time.gmtime(time.time() - ago_s)
    return time.strftime("%Y-%m-%dT%H:%M:%S.", moment) + f"{int(time.time() * 1000) % 1000:03d}Z"
