"""A push service on loopback: takes JSON over HTTP, or refuses, hangs, drips and lies."""

from __future__ import annotations

import json
import queue
import socket
import ssl
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from .closing import Closing


class Phone(Closing):
    """`url()` is for apprise. `manner` may be changed while it runs:

    'take'    answers 200;
    'refuse'  answers 500;
    'hang'    reads the request and never answers;
    'drip'    answers one byte now and then, for ever;
    'lose'    takes the message and breaks the line before it answers;
    'limit'   answers `code` (429, too many requests), with `headers` and the text `says`.

    `asked` has the time of each request (monotonic), taken or not.
    """

    def __init__(self, manner: str = "take", tls: ssl.SSLContext | None = None) -> None:
        self.manner = manner
        self.got: queue.Queue[dict[str, Any]] = queue.Queue()
        self.asked: list[float] = []
        self.code, self.headers, self.says = 429, dict[str, str](), ""
        self._over = threading.Event()
        phone = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:  # the name is http.server's
                phone._answer(self)

            def do_GET(self) -> None:
                """An address that is only fetched."""
                phone.asked.append(time.monotonic())
                self.send_response(200)
                self.end_headers()

            def log_message(self, format: str, *args: object) -> None:  # noqa: A002  # its name
                return

        class Server(ThreadingHTTPServer):
            def handle_error(self, request: Any, client_address: Any) -> None:
                """One that breaks off, or does not trust our certificate, is none of ours."""

        self._server = Server(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        if tls is not None:  # the handshake in the request's own thread, not in the accepting one
            self._server.socket = tls.wrap_socket(
                self._server.socket, server_side=True, do_handshake_on_connect=False
            )
        self._scheme = "json" if tls is None else "jsons"
        self._server.block_on_close = False
        self.port = self._server.server_port
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,))
        self._thread.start()

    def url(self, path: str = "") -> str:
        return f"{self._scheme}://127.0.0.1:{self.port}/{path}"

    def next(self, within_s: float = 30.0) -> dict[str, Any]:
        """The next message that was taken. Raises queue.Empty."""
        return self.got.get(timeout=within_s)

    def close(self) -> None:
        self._over.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    def _answer(self, request: BaseHTTPRequestHandler) -> None:
        self.asked.append(time.monotonic())
        body = request.rfile.read(int(request.headers.get("Content-Length", 0)))
        if self.manner in ("take", "lose"):
            came = {"path": request.path, "came_s": time.monotonic()}
            self.got.put({**json.loads(body), **came})
        if self.manner == "lose":
            request.connection.shutdown(socket.SHUT_RDWR)
            return
        if self.manner == "hang":
            self._over.wait()
            return
        if self.manner == "limit":
            request.send_response(self.code)
            for name, value in self.headers.items():
                request.send_header(name, value)
            request.end_headers()
            request.wfile.write(self.says.encode())
            return
        request.send_response(500 if self.manner == "refuse" else 200)
        if self.manner == "drip":
            request.send_header("Content-Length", "1000000")
        request.end_headers()
        while self.manner == "drip" and not self._over.is_set():
            try:
                request.wfile.write(b".")
                request.wfile.flush()
            except OSError:
                return
            time.sleep(0.1)
