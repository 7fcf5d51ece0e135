"""Servers on loopback that take notices: well, badly, or not at all."""

from __future__ import annotations

import json
import os
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from email import message_from_bytes, policy
from email.message import EmailMessage
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import count
from typing import Any

from aiosmtpd.controller import Controller


class Webhook:
    """An HTTP server that answers every request with `status` and keeps what came: posts, and the paths of calls.

    `posts` are those of JSON, `bodies` all.
    """

    def __init__(self, status: int = 200, port: int = 0) -> None:
        self.status = status
        self.largest = 10_000_000
        self.posts: list[dict[str, Any]] = []
        self.bodies: list[bytes] = []
        self.calls: list[str] = []
        self.headers: list[dict[str, str]] = []
        self._server = ThreadingHTTPServer(("127.0.0.1", port), self._handler())
        self.port = self._server.server_address[1]
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True)
        self._thread.start()

    def url(self, path: str = "") -> str:
        return f"json://127.0.0.1:{self.port}/{path}"

    def stop(self) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(5)

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        webhook = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                data = self.rfile.read(int(self.headers["Content-Length"]))
                fits = len(data) <= webhook.largest
                if fits:
                    webhook.bodies.append(data)
                    if self.headers["Content-Type"] == "application/json":
                        webhook.posts.append(json.loads(data))
                    webhook.headers.append(dict(self.headers))
                self.send_response(webhook.status if fits else 413)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def do_GET(self) -> None:
                webhook.calls.append(self.path)
                self.send_response(webhook.status)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_: object) -> None:
                """Says nothing."""

        return Handler


HOMESERVER_SAYS = {"user_id": "@sentinel:print.example", "room_id": "!hall", "content_uri": "mxc://print.example/1"}


class Homeserver:
    """Takes events as Matrix does: one for each transaction, and a second one under the same is confirmed and dropped.

    Matrix Specification, Client-Server API, "Transaction identifiers".
    """

    def __init__(self) -> None:
        self.events: dict[str, dict[str, str]] = {}
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self.port = self._server.server_address[1]
        self.url = f"matrix://t0ken@127.0.0.1:{self.port}/!hall?hsreq=no"
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def stop(self) -> None:
        self._server.shutdown()
        self._server.server_close()

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        events = self.events

        class Handler(BaseHTTPRequestHandler):
            def do_PUT(self) -> None:
                events.setdefault(self.path, json.loads(self._read()))
                self._answered()

            def do_POST(self) -> None:
                self._read()
                self._answered()

            def do_GET(self) -> None:
                self._answered()

            def _read(self) -> bytes:
                return self.rfile.read(int(self.headers["Content-Length"]))

            def _answered(self) -> None:
                body = json.dumps(HOMESERVER_SAYS).encode()
                self.send_response(200)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_: object) -> None:
                """Says nothing."""

        return Handler


class MailServer:
    """An SMTP server that keeps (subject, body) of every mail."""

    def __init__(self, port: int = 0) -> None:
        self.mails: list[tuple[str, str]] = []
        self.whole: list[EmailMessage] = []
        self.headers: list[dict[str, str]] = []
        self.port = port or free_port()
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port)
        self._controller.start()

    @property
    def url(self) -> str:
        return f"mailto://127.0.0.1:{self.port}/?from=sentinel@print.example&to=team@print.example&mode=insecure"

    async def handle_DATA(self, _server: object, _session: object, envelope: Any) -> str:  # noqa: N802
        mail = message_from_bytes(envelope.content, policy=policy.default)
        body = mail.get_body(("plain",))
        assert body is not None
        self.whole.append(mail)
        self.headers.append({name: str(value) for name, value in mail.items()})
        self.mails.append((str(mail["Subject"]), str(body.get_content())))
        return "250 OK"

    def stop(self) -> None:
        self._controller.stop()


def free_port() -> int:
    """A port on which nobody listens, below those the system gives away, so that nobody gets it meanwhile."""
    for port in _PORTS:
        with suppress(OSError), socket.create_server(("127.0.0.1", port)):
            return port
    raise AssertionError("there is always another number")


_PORTS = (10_000 + number % 20_000 for number in count(os.getpid() * 61))


@contextmanager
def silent_server() -> Iterator[int]:
    """The port of a server that takes every connection and never says a word."""
    with socket.create_server(("127.0.0.1", 0), backlog=32) as listening:
        yield listening.getsockname()[1]
