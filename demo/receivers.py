"""What stands at the other end: a real mail server and a webhook receiver, on loopback alone."""

from __future__ import annotations

import email
import email.policy
import json
import queue
import socket
import threading
import time
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Self

from aiosmtpd.controller import Controller

from demo.faults import NotAsExpectedError

HOST = "127.0.0.1"


@dataclass(frozen=True)
class Received:
    """A message as it arrived; `at` is the clock's time in seconds when the server had it whole."""

    way: str
    to: str
    title: str
    body: str
    at: float = field(compare=False)


class Receivers:
    """Both servers; what they receive is taken in the order of arrival."""

    def __init__(self) -> None:
        self._arrived: queue.SimpleQueue[Received] = queue.SimpleQueue()
        self.mail_port = _free_port()
        self._mail = Controller(
            _MailHandler(self._arrived), hostname=HOST, port=self.mail_port, server_hostname="localhost"
        )
        self._web = ThreadingHTTPServer((HOST, 0), _webhook_handler(self._arrived))
        self.web_port = int(self._web.server_address[1])

    def __enter__(self) -> Self:
        self._mail.start()
        threading.Thread(target=self._web.serve_forever, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._mail.stop()
        self._web.shutdown()
        self._web.server_close()

    def mail_url(self, name: str) -> str:
        """An apprise URL for plain SMTP to this server."""
        sender, receiver = "sentinel@print-room.example", f"{name}@print-room.example"
        return f"mailto://{HOST}:{self.mail_port}/?mode=insecure&from={sender}&to={receiver}"

    def webhook_url(self, name: str) -> str:
        """An apprise URL that posts JSON to this server."""
        return f"json://{HOST}:{self.web_port}/{name}"

    def next(self, within_seconds: float) -> Received | None:
        """The next message, None where none comes in time."""
        try:
            return self._arrived.get(timeout=within_seconds)
        except queue.Empty:
            return None

    def gather(self, count: int, within_seconds: float) -> list[Received]:
        """Exactly so many messages, the mails first. Raises NotAsExpectedError where fewer come in time."""
        found: list[Received] = []
        end = time.monotonic() + within_seconds
        while len(found) < count:
            message = self.next(max(0.0, end - time.monotonic()))
            if message is None:
                titles = ", ".join(f"{each.way} to {each.to}" for each in found) or "none"
                raise NotAsExpectedError(
                    f"expected {count} messages within {within_seconds:g} seconds, got {len(found)} ({titles})"
                )
            found.append(message)
        return sorted(found, key=lambda message: (message.way, message.to))


class _MailHandler:
    def __init__(self, arrived: queue.SimpleQueue[Received]) -> None:
        self._arrived = arrived

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802 - aiosmtpd's name
        at = time.time()
        mail = email.message_from_bytes(envelope.content, policy=email.policy.default)
        text = mail.get_body(("plain",))
        body = text.get_content() if text else "(no plain text)"
        for receiver in envelope.rcpt_tos:
            self._arrived.put(Received("mail", receiver, str(mail["Subject"]), _plain(body), at))
        return "250 OK"


def _webhook_handler(arrived: queue.SimpleQueue[Received]) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            post = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            arrived.put(Received("webhook", self.path, post["title"], _plain(post["message"]), time.time()))
            self.send_response(204)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            """Keeps its access log out of the story."""

    return Handler


def _plain(body: str) -> str:
    return "\n".join(body.strip().splitlines())


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])
