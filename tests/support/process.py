"""The real `sentinel` as a process of its own, under a service manager's eyes."""

from __future__ import annotations

import os
import queue
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from tests.support.room import Room

PATIENCE = 60.0
"""Seconds a busy machine may take for what should take one."""

URGENT = """
[recipients.colour-team]
url_env = "COLOUR_TEAM_URL"
[notices]
retry_seconds = 0.2
retry_ceiling_seconds = 0.5
timeout_seconds = 2.0
summary_above = 1000
"""
IN_A_HURRY = ("[store]", "quiet_seconds = 0.2\nscan_seconds = 0.3\n[store]")


def eventually(what: str, holds: Callable[[], object], within: float = PATIENCE) -> None:
    """Waits until it holds."""
    deadline = time.monotonic() + within
    while not holds():
        assert time.monotonic() < deadline, f"not within {within:g} s: {what}"
        time.sleep(0.02)


class Running:
    """`sentinel run`, and what it tells its service manager."""

    def __init__(self, room: Room, url: str, environment: Mapping[str, str] | None = None) -> None:
        self._heard: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        place = f"@sentinel-{os.getpid()}-{id(self)}"
        self._socket.bind(place.replace("@", "\0", 1))
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()
        self.errors = room.folder / "stderr.log"
        with self.errors.open("ab") as errors:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "sentinel", "--config", room.config, "run"],
                stdout=subprocess.DEVNULL,
                stderr=errors,
                env=os.environ | {"NOTIFY_SOCKET": place, "COLOUR_TEAM_URL": url} | dict(environment or {}),
            )

    def _listen(self) -> None:
        # a manager that does not read holds the service up
        while heard := self._socket.recv(65536):
            self._heard.put(heard.decode())

    def hears(self, beginning: str, without: str = "\0") -> str:
        """The next message of the service that begins so and does not hold the other text."""
        while True:
            heard = self._heard.get(timeout=PATIENCE)
            if heard.startswith(beginning) and without not in heard:
                return heard

    def ready(self) -> Running:
        self.hears("READY=1")
        return self

    def logged(self, text: str) -> bool:
        return text in self.errors.read_text()

    def signal(self, number: signal.Signals) -> None:
        self.process.send_signal(number)

    def kill(self) -> None:
        self.process.kill()
        self.process.wait(PATIENCE)
        self._close()

    def stop(self) -> int:
        """Asks it to end, and its exit code."""
        self.signal(signal.SIGTERM)
        code = self.process.wait(PATIENCE)
        self._close()
        return code

    def _close(self) -> None:
        self._socket.shutdown(socket.SHUT_RD)
        self._listener.join(PATIENCE)
        self._socket.close()


@contextmanager
def running(room: Room, url: str) -> Iterator[Running]:
    """A service that is ready, and gone afterwards."""
    service = Running(room, url)
    try:
        yield service.ready()
    finally:
        if service.process.poll() is None:
            service.kill()


def drop(room: Room, place: str, content: str) -> None:
    """Writes a file elsewhere and moves it in whole."""
    outside = room.folder / "instrument"
    outside.mkdir(exist_ok=True)
    path, target = outside / Path(place).name, room.drop / place
    path.write_text(content)
    target.parent.mkdir(parents=True, exist_ok=True)
    path.rename(target)
