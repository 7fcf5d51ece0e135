"""A Matrix homeserver that is none of ours, alone on this machine, and its client-server API as a reader uses it.

The API: Matrix Specification, Client-Server API v3. Accounts are made by the server's own registration with a shared
secret (its manual, "Shared-Secret Registration").
"""

from __future__ import annotations

import hashlib
import hmac
import json
import re
import signal
import subprocess
import venv
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from tests.support.process import eventually
from tests.support.servers import free_port

SERVER, SECRET = "print.example", "known to these tests alone"
API = "/_matrix/client/v3"
PATIENCE_SECONDS = 60.0
MANY = 1000.0
"""A limit that no test reaches."""


class ChatServer:
    """The server, its settings and its log."""

    def __init__(self, folder: Path, environment: Path) -> None:
        self.port, self._folder, self._python = free_port(), folder, str(environment / "bin" / "python")
        if not environment.exists():
            venv.create(environment, with_pip=True)
        subprocess.run([self._python, "-m", "pip", "install", "--quiet", "matrix-synapse"], check=True)

    def version(self) -> str:
        """What was installed."""
        asked = "import importlib.metadata as known; print(known.version('matrix-synapse'))"
        return subprocess.run([self._python, "-c", asked], capture_output=True, text=True, check=True).stdout.strip()

    @contextmanager
    def served(self, messages_a_second: float = MANY) -> Iterator[None]:
        """The server runs, and takes so many messages a second of one sender before it answers 429."""
        config = self._folder / "homeserver.yaml"
        config.write_text(json.dumps(self._settings(messages_a_second)))  # JSON is YAML
        command = [self._python, "-m", "synapse.app.homeserver", "--config-path", str(config)]
        with (self._folder / "homeserver.log").open("ab") as log:
            subprocess.run([*command, "--generate-keys"], check=True, stdout=log, stderr=log)
            server = subprocess.Popen(command, stdout=log, stderr=log, cwd=self._folder)
            try:
                eventually("the server answers", self._answers, PATIENCE_SECONDS)
                yield
            finally:
                server.send_signal(signal.SIGTERM)
                server.wait(PATIENCE_SECONDS)

    def _settings(self, messages_a_second: float) -> dict[str, Any]:
        listener = {"port": self.port, "bind_addresses": ["127.0.0.1"], "type": "http", "tls": False}
        return {
            "server_name": SERVER,
            "listeners": [{**listener, "resources": [{"names": ["client"]}]}],
            "database": {"name": "sqlite3", "args": {"database": str(self._folder / "homeserver.db")}},
            "media_store_path": str(self._folder / "media"),
            "signing_key_path": str(self._folder / "signing.key"),
            "registration_shared_secret": SECRET,
            "macaroon_secret_key": SECRET,
            "form_secret": SECRET,
            "trusted_key_servers": [],
            "report_stats": False,
            "rc_message": {"per_second": messages_a_second, "burst_count": max(2, int(messages_a_second))},
        }

    def _answers(self) -> bool:
        try:
            self.call("GET", "/_matrix/client/versions")
        except OSError:
            return False
        return True

    def call(self, method: str, path: str, said: object = None, token: str = "") -> Any:
        """What the server answers to a request that it must take."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_SECONDS)
        body = None if said is None else json.dumps(said)
        connection.request(method, path, body, {"Authorization": f"Bearer {token}"} if token else {})
        answer = connection.getresponse()
        found = json.loads(answer.read())
        connection.close()
        assert answer.status == 200, f"{method} {path}: expected 200, got {answer.status} {found}"
        return found

    def account(self, name: str) -> str:
        """Makes an account; its access token."""
        path = "/_synapse/admin/v1/register"
        made = {"nonce": self.call("GET", path)["nonce"], "username": name, "password": f"{name} has one"}
        signed = "\0".join([*made.values(), "notadmin"]).encode()
        mac = hmac.new(SECRET.encode(), signed, hashlib.sha1).hexdigest()
        return str(self.call("POST", path, {**made, "admin": False, "mac": mac})["access_token"])

    def said(self, words: str) -> list[str]:
        """All that a regular expression finds in the server's log."""
        return re.findall(words, (self._folder / "homeserver.log").read_text(errors="replace"))


class ChatRoom:
    """A room of the server that its reader made, and into which one sender is asked."""

    def __init__(self, server: ChatServer, reader: str, sender: str) -> None:
        self._server, self._reader, self._sender = server, reader, f"@{sender}:{SERVER}"
        self.id = str(server.call("POST", f"{API}/createRoom", {"preset": "private_chat"}, reader)["room_id"])
        self.take_back()

    def shut_out(self) -> None:
        """The server refuses the sender from now on."""
        self._said("ban")

    def take_back(self) -> None:
        """The sender may join, again where it was shut out."""
        self._said("unban")
        self._said("invite")

    def _said(self, what: str) -> None:
        self._server.call("POST", f"{API}/rooms/{quote(self.id)}/{what}", {"user_id": self._sender}, self._reader)

    def messages(self) -> list[dict[str, Any]]:
        """The contents of all that the sender said, in order, as the reader gets them from the server."""
        found: list[dict[str, Any]] = []
        page = {"dir": "f", "limit": "200"}
        while True:
            asked = f"{API}/rooms/{quote(self.id)}/messages?{urlencode(page)}"
            answer = self._server.call("GET", asked, token=self._reader)
            found += [
                each["content"]
                for each in answer["chunk"]
                if each["type"] == "m.room.message" and each["sender"] == self._sender
            ]
            if "end" not in answer:
                return found
            page["from"] = answer["end"]

    def arrived(self) -> int:
        """How many messages the server has taken, by its log."""
        return len(self._server.said(rf' 200 "PUT \S+{quote(self.id)}/send/'))

    def met(self) -> Counter[str]:
        """How the sender's requests for this room were answered, by the server's log."""
        return Counter(self._server.said(rf'{self._sender}\S* .* (\d{{3}}) "(?:PUT|POST) \S*{quote(self.id)}'))
