"""Receivers of notices on real sockets that misbehave as they are told, and keep a log of what reached them."""

from __future__ import annotations

import asyncio
import json
import re
import socket
import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP

from tests.support.servers import free_port

Mood = Callable[[], str]
"""How the next request is met: `well`, `429`, `500`, `hang`, `cut` in the middle, `swallow` (taken, never confirmed),
`refuse` (closed at once)."""

HANGING_SECONDS = 2.0
"""Longer than a sender waits in these tests."""

KEY = re.compile(r"^Notice (\S+)$", re.MULTILINE)
NAMED = re.compile(r"sentinel notify show (\S+?)(?=\)|\s|$)")


@dataclass
class Log:
    """Every message that came through whole, in order, and how requests were met."""

    bodies: list[str] = field(default_factory=list)
    met: Counter[str] = field(default_factory=Counter)

    def keys(self) -> list[str]:
        """The key in the last line of each message."""
        return [KEY.findall(body)[-1] for body in self.bodies]

    def told(self) -> list[str]:
        """Every notice that was told, in order: by itself, or by name in a summary."""
        found: list[str] = []
        for body in self.bodies:
            found += NAMED.findall(body) or KEY.findall(body)[-1:]
        return found


class WebhookReceiver:
    """Takes JSON posts."""

    def __init__(self, mood: Mood) -> None:
        self.log, self._mood = Log(), mood
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self._server.daemon_threads = True
        self.url = f"json://127.0.0.1:{self._server.server_address[1]}/"
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def stop(self) -> None:
        self._server.shutdown()
        self._server.server_close()

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        receiver = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                mood, length = receiver._mood(), int(self.headers["Content-Length"])
                receiver.log.met[mood] += 1
                self.close_connection = True
                if mood == "refuse":
                    return
                if mood == "cut":
                    self.rfile.read(length // 2)
                    return
                body = str(json.loads(self.rfile.read(length))["message"])
                if mood == "hang":
                    threading.Event().wait(HANGING_SECONDS)
                    return
                if mood in ("well", "swallow"):
                    receiver.log.bodies.append(body)
                if mood != "swallow":
                    self.send_response(200 if mood == "well" else int(mood))
                    self.send_header("Content-Length", "0")
                    self.end_headers()

            def log_message(self, *_: object) -> None:
                """Says nothing."""

        return Handler


class MailReceiver:
    """Takes mail by SMTP."""

    def __init__(self, mood: Mood) -> None:
        self.log, self._mood = Log(), mood
        port = free_port()
        self._controller = Controller(self, hostname="127.0.0.1", port=port)
        self._controller.start()
        self.url = f"mailto://127.0.0.1:{port}/?from=sentinel@print.example&to=team@print.example&mode=insecure"

    def stop(self) -> None:
        self._controller.stop()

    async def handle_DATA(self, server: SMTP, _session: object, envelope: Any) -> str:  # noqa: N802
        mood = self._mood()
        self.log.met[mood] += 1
        if mood == "hang":
            await asyncio.sleep(HANGING_SECONDS)
        if mood in ("well", "swallow"):
            mail = message_from_bytes(envelope.content, policy=policy.default)
            body = mail.get_body(("plain",))
            assert body is not None
            self.log.bodies.append(str(body.get_content()))
        if mood in ("swallow", "hang", "cut", "refuse"):
            assert server.transport is not None
            server.transport.close()
        return {"well": "250 OK", "429": "451 too many", "500": "554 no"}.get(mood, "421 closing")


def closed_port() -> int:
    """A port that nobody listens at."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return int(listening.getsockname()[1])
