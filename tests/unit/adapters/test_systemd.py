"""The service manager's side is a real datagram socket; the protocol is that of sd_notify(3)."""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from structlog.testing import capture_logs

from sentinel.adapters.process import Supervision
from sentinel.errors import AdminError


class Manager:
    """Receives as the service manager does, on a path or on an abstract name."""

    def __init__(self, name: str) -> None:
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.settimeout(5)
        self._socket.bind(name.replace("@", "\0", 1))
        self.supervision = Supervision({"NOTIFY_SOCKET": name})

    def heard(self) -> list[str]:
        """The assignments of the next datagram."""
        return self._socket.recv(65536).decode("utf-8").split("\n")

    def close(self) -> None:
        self._socket.close()


@pytest.fixture(params=["path", "abstract"])
def manager(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Manager]:
    listening = Manager(str(tmp_path / "notify") if request.param == "path" else f"@sentinel-test-{os.getpid()}")
    yield listening
    listening.close()


def test_ready_carries_its_status(manager: Manager) -> None:
    manager.supervision.ready("watching 2 folders")
    assert manager.heard() == ["READY=1", "STATUS=watching 2 folders"]


def test_reloading_carries_the_monotonic_time_in_microseconds(manager: Manager) -> None:
    before = time.clock_gettime_ns(time.CLOCK_MONOTONIC) // 1000
    manager.supervision.reloading()
    after = time.clock_gettime_ns(time.CLOCK_MONOTONIC) // 1000
    first, second = manager.heard()
    assert first == "RELOADING=1"
    key, value = second.split("=")
    assert key == "MONOTONIC_USEC"
    assert before <= int(value) <= after


def test_a_sign_of_life_is_one_assignment(manager: Manager) -> None:
    manager.supervision.alive()
    assert manager.heard() == ["WATCHDOG=1"]


def test_stopping_is_one_assignment(manager: Manager) -> None:
    manager.supervision.stopping()
    assert manager.heard() == ["STOPPING=1"]


def test_a_status_cannot_smuggle_in_another_assignment(manager: Manager) -> None:
    manager.supervision.status("put aside: a\nSTOPPING=1\r\n.txt")
    assert manager.heard() == ["STATUS=put aside: a STOPPING=1 .txt"]


def test_a_file_name_that_is_not_utf8_still_gives_a_status(manager: Manager) -> None:
    manager.supervision.status("put aside: " + os.fsdecode(b"gr\xfcn.txt"))
    assert manager.heard() == ["STATUS=put aside: gr?n.txt"]


def test_a_long_status_stays_below_the_4096_bytes_the_manager_takes(manager: Manager) -> None:
    """NOTIFY_BUFFER_MAX of systemd 252 is PIPE_BUF, 4096 bytes (from memory)."""
    manager.supervision.ready("\N{GREEK CAPITAL LETTER DELTA}\N{BAR CHART}" * 5000)
    first, second = manager.heard()
    assert first == "READY=1"
    assert second.startswith("STATUS=\N{GREEK CAPITAL LETTER DELTA}\N{BAR CHART}")
    assert len(f"{first}\n{second}".encode()) < 4096


def test_without_a_manager_no_socket_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", refuse)
    for silent in (Supervision({}), Supervision({"NOTIFY_SOCKET": ""})):
        silent.ready("watching 1 folder")
        silent.reloading()
        silent.status("watching 2 folders")
        silent.alive()
        silent.stopping()
    with pytest.raises(AssertionError, match="a socket was opened"):
        Supervision({"NOTIFY_SOCKET": "@any"}).alive()


def test_a_manager_that_is_gone_is_logged_and_the_service_goes_on(tmp_path: Path) -> None:
    gone = tmp_path / "gone"
    with capture_logs() as logs:
        Supervision({"NOTIFY_SOCKET": str(gone)}).alive()
    assert [(line["log_level"], line["message"]) for line in logs] == [("warning", "WATCHDOG=1")]
    assert "No such file" in logs[0]["fault"]


def test_a_manager_that_does_not_read_holds_nobody_up_for_ever(manager: Manager) -> None:
    with capture_logs() as logs:
        while not logs:
            manager.supervision.alive()
    assert logs[0]["fault"] == "timed out"


def test_a_notify_socket_of_another_family_is_refused() -> None:
    with pytest.raises(AdminError, match=r"expected an absolute path .* got 'vsock:2:1234'"):
        Supervision({"NOTIFY_SOCKET": "vsock:2:1234"})


@pytest.mark.parametrize(
    ("environ", "seconds"),
    [
        ({}, None),
        ({"WATCHDOG_USEC": "180000000"}, 180.0),
        ({"WATCHDOG_USEC": "2500000", "WATCHDOG_PID": str(os.getpid())}, 2.5),
        ({"WATCHDOG_USEC": "2500000", "WATCHDOG_PID": str(os.getppid())}, None),
    ],
)
def test_the_watchdog_is_for_the_process_it_names(environ: dict[str, str], seconds: float | None) -> None:
    assert Supervision(environ).watchdog_seconds == seconds


@pytest.mark.parametrize("text", ["", "0", "-1", "3min", "²"])
def test_a_watchdog_time_that_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(AdminError, match=rf"expected a number of microseconds .* got '{text}'"):
        Supervision({"WATCHDOG_USEC": text})
