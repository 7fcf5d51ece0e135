"""The process among others: time, one service a store, and what the service manager is told (sd_notify(3))."""

from __future__ import annotations

import fcntl
import os
import socket
import subprocess
import time
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from sentinel.errors import AdminError, SecondInstanceError


class SystemClock:
    """The machine's own clock."""

    def now(self) -> datetime:
        """The time of day, aware, in UTC."""
        return datetime.now(UTC)

    def elapsed(self) -> float:
        """Seconds that only ever rise, whatever is done to the time of day."""
        return time.monotonic()


class InstanceLock:
    """Held from construction until `release` or the end of the process, however it ends."""

    def __init__(self, store: Path) -> None:
        """Raises SecondInstanceError where another process holds it, OSError where it cannot be made."""
        path = store.with_name(store.name + ".lock")
        path.parent.mkdir(parents=True, exist_ok=True)
        self._handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o640)
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.read(self._handle, 32).decode().strip() or "unknown"
            os.close(self._handle)
            raise SecondInstanceError(
                f"expected to be the only service on {store}, got one running as process {holder}"
            ) from None
        os.ftruncate(self._handle, 0)
        os.write(self._handle, f"{os.getpid()}\n".encode())

    def release(self) -> None:
        """Lets another service begin."""
        os.close(self._handle)


def is_held(store: Path) -> bool:
    """Whether a service works on this store."""
    try:
        handle = os.open(store.with_name(store.name + ".lock"), os.O_RDONLY | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(handle)
    return False


def synchronised() -> bool | None:
    """Whether the machine's clock follows others, as systemd says; None where it does not say."""
    command = ["timedatectl", "show", "--property=NTPSynchronized", "--value"]
    try:
        done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=2.0)  # noqa: S603 - no input
    except (OSError, subprocess.SubprocessError):
        return None
    return {"yes": True, "no": False}.get(done.stdout.strip())


_STATUS_CHARACTERS = 1000  # at most 4 bytes each: the manager drops datagrams above 4096 bytes
_SEND_SECONDS = 1.0


class Supervision:
    """Tells the service manager how the service does; silent where none listens.

    `environ` is read for NOTIFY_SOCKET, WATCHDOG_USEC and WATCHDOG_PID; AdminError where one of
    them is not as sd_notify(3) and sd_watchdog_enabled(3) have it. A message the manager does not
    take is logged and forgotten: the service goes on.
    """

    watchdog_seconds: float | None
    """Silence for this long ends the service: call `alive` twice as often. None: no watchdog."""

    def __init__(self, environ: Mapping[str, str]) -> None:
        self._address = _address(environ.get("NOTIFY_SOCKET", ""))
        self.watchdog_seconds = _watchdog_seconds(environ)

    def ready(self, status: str) -> None:
        """The service has started, or has finished reloading; `status` as in `status`."""
        self._tell("READY=1", _status(status))

    def reloading(self) -> None:
        """The settings are being read again; `ready` must follow, also when they were refused."""
        self._tell("RELOADING=1", f"MONOTONIC_USEC={time.monotonic_ns() // 1000}")

    def status(self, text: str) -> None:
        """One line for `systemctl status`; line breaks become spaces."""
        self._tell(_status(text))

    def alive(self) -> None:
        """Work was done. Never call it from a thread that turns by itself."""
        self._tell("WATCHDOG=1")

    def stopping(self) -> None:
        """The service is on its way out."""
        self._tell("STOPPING=1")

    def _tell(self, *assignments: str) -> None:
        if not self._address:
            return
        message = "\n".join(assignments)
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as sender:
                sender.settimeout(_SEND_SECONDS)
                sender.connect(self._address)
                sender.send(message.encode("utf-8", "replace"))
        except OSError as fault:
            import structlog  # commands take the clock from here, and log nothing

            structlog.get_logger().warning("service manager not told", message=message, fault=str(fault))


def _address(name: str) -> str:
    """The socket's address; a leading `@` stands for the NUL of an abstract one."""
    if name and name[0] not in "/@":
        raise AdminError(f"NOTIFY_SOCKET: expected an absolute path or a name that begins with @, got {name!r}")
    return "\0" + name[1:] if name.startswith("@") else name


def _watchdog_seconds(environ: Mapping[str, str]) -> float | None:
    text, pid = environ.get("WATCHDOG_USEC"), environ.get("WATCHDOG_PID")
    if text is None or (pid is not None and pid != str(os.getpid())):
        return None
    if not text.isascii() or not text.isdigit() or int(text) == 0:
        raise AdminError(f"WATCHDOG_USEC: expected a number of microseconds above zero, got {text!r}")
    return int(text) / 1e6


def _status(text: str) -> str:
    return "STATUS=" + " ".join(text.split())[:_STATUS_CHARACTERS]
