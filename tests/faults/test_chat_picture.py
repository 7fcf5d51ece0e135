"""A picture must not cost a chat its text. The real server: `python -m tests.faults.real_chat`."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from sentinel.adapters.notifier import PICTURE_NAME, AppriseNotifier
from sentinel.adapters.recipients import Addressee
from sentinel.core.cases.kinds import NoticeKind
from sentinel.render.notices import Letter, sample_documents

ANSWER = {"user_id": "@sentinel:print.example", "room_id": "!hall", "content_uri": "mxc://print.example/1"}


class Homeserver:
    """Takes events as Matrix does: one for each transaction, and a second one under the same is confirmed and dropped.

    Matrix Specification, Client-Server API, "Transaction identifiers".
    """

    def __init__(self) -> None:
        self.events: dict[str, dict[str, str]] = {}
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self.url = f"matrix://t0ken@127.0.0.1:{self._server.server_address[1]}/!hall?hsreq=no"
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
                body = json.dumps(ANSWER).encode()
                self.send_response(200)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_: object) -> None:
                """Says nothing."""

        return Handler


@pytest.fixture
def homeserver() -> Iterator[Homeserver]:
    server = Homeserver()
    yield server
    server.stop()


def test_a_chat_gets_the_text_whatever_lies_in_the_working_folder(
    homeserver: Homeserver, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / PICTURE_NAME).write_bytes(b"no picture of ours")
    monkeypatch.chdir(tmp_path)
    letter = Letter("confirm-failure", *sample_documents()["confirm-failure"]["a first failure"])
    notifier = AppriseNotifier([Addressee("hall", tuple(NoticeKind), (homeserver.url,))], 10.0)
    assert letter.picture() is not None
    assert notifier.send("hall", 0, letter) is None
    [said] = homeserver.events.values()
    assert said["body"].endswith(f"\nNotice {letter.key}")
