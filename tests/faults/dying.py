"""A service in a child of this process that kills itself at a narrow place, or is killed at any moment.

For a process without threads: the child is a copy of it, with everything imported, so that a kill costs a moment.
"""

from __future__ import annotations

import importlib
import json
import os
import signal
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sentinel.adapters.notifier import AppriseNotifier
from sentinel.adapters.process import SystemClock
from sentinel.bootstrap import CheckedSettings, Service
from sentinel.render.notices import Letter
from tests.faults.receivers import KEY
from tests.support.room import SITE


@dataclass(frozen=True, slots=True)
class Place:
    """Before or after a function is called; `function` is MODULE:NAME, of a class CLASS.NAME."""

    function: str
    after: bool = False


DROP, ARCHIVE, STORE = (
    "sentinel.adapters.files.drop_folder",
    "sentinel.adapters.files.archive",
    "sentinel.adapters.store",
)

PLACES: Mapping[str, Place] = {
    "before the archive": Place(f"{ARCHIVE}:Archive.keep"),
    "archive: nothing written": Place("sentinel.adapters.files.handles:write"),
    "archive: written": Place("sentinel.adapters.files.handles:write", after=True),
    "how it came is noted": Place(f"{ARCHIVE}:Archive.note", after=True),
    "in the journal of attempts": Place("sentinel.adapters.files.attempts:AttemptsFile.append", after=True),
    "archived, not committed": Place(f"{ARCHIVE}:Archive.keep", after=True),
    "within the transaction": Place(f"{STORE}.store:RecordWriter.add", after=True),
    "committed, not taken away": Place(f"{DROP}:DropFolders.remove"),
    "taken away": Place(f"{DROP}:DropFolders.remove", after=True),
    "refused, no reason written": Place(f"{DROP}:DropFolders.explain"),
    "reason written, not moved": Place(f"{DROP}:DropFolders.explain", after=True),
    "while it is put aside": Place("os:rename"),
    "put aside": Place(f"{DROP}:DropFolders.set_aside", after=True),
    "before a notice is sent": Place("tests.faults.dying:Receiver.send"),
    "notice accepted, not noted": Place("tests.faults.dying:Receiver.send", after=True),
    "notice noted": Place(f"{STORE}.case_records:WriteOutbox.sent", after=True),
    "notices gathered into one": Place(f"{STORE}.case_records:WriteOutbox.gather"),
    "a file is forgotten": Place("os:unlink", after=True),
}


def die_at(place: Place, passes: int) -> None:
    """Lets this process kill itself the so many-th time it comes by."""
    module, _, path = place.function.partition(":")
    owner: Any = importlib.import_module(module)
    *within, name = path.split(".")
    for each in within:
        owner = getattr(owner, each)
    real, left = getattr(owner, name), passes

    def dying(*args: Any, **named: Any) -> Any:
        nonlocal left
        left -= 1
        if left <= 0 and not place.after:
            os.kill(os.getpid(), signal.SIGKILL)
        result = real(*args, **named)
        if left <= 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return result

    setattr(owner, name, dying)


class Receiver(AppriseNotifier):
    """Takes every notice: what is in its file has arrived."""

    log: Path

    def send(self, recipient: str, url_no: int, letter: Letter) -> str | None:
        key = KEY.findall(letter.message().body)[-1]
        with self.log.open("ab", buffering=0) as file:
            file.write(json.dumps([recipient, key]).encode() + b"\n")
        return None


class LaterClock(SystemClock):
    """The machine's clock, set forward."""

    def __init__(self, days: float) -> None:
        self._ahead = timedelta(days=days)

    def now(self) -> datetime:
        return super().now() + self._ahead


def begin(config: Path, log: Path, place: Place | None, passes: int = 1, later_days: float = 0.0) -> int:
    """Starts a service, one that goes on or, set to a later day, one that does what is there and ends; its process."""
    child = os.fork()
    if child:
        return child
    code = 1
    try:
        out = os.open(log.with_name("stderr.log"), os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        for stream in (1, 2):
            os.dup2(out, stream)
        Receiver.log = log
        notifier = importlib.import_module("sentinel.adapters.notifier")
        notifier.AppriseNotifier = Receiver  # type: ignore[attr-defined]
        if place is not None:
            die_at(place, passes)
        clock = LaterClock(later_days)
        settings = CheckedSettings(config, clock)
        service = Service(settings, settings.load(), clock)
        if later_days:
            service.run_once()
        else:
            service.run()
        code = 0
    except BaseException:
        sys.excepthook(*sys.exc_info())
    finally:
        os._exit(code)


def migrate(store: Path, step: int, steps: Path) -> int:
    """Opens a store in a process that is killed before this statement, 0 for never; writes how many there were."""
    child = os.fork()
    if child:
        return child
    code, met = 1, 0
    try:
        from sqlalchemy import Engine, event

        from sentinel.adapters.store.store import Store

        @event.listens_for(Engine, "before_cursor_execute")
        def count(*_: object) -> None:
            nonlocal met
            met += 1
            if met == step:
                os.kill(os.getpid(), signal.SIGKILL)

        Store(store, SITE).close()
        steps.write_text(str(met))
        code = 0
    except BaseException:
        sys.excepthook(*sys.exc_info())
    finally:
        os._exit(code)


def ended(child: int, within: float) -> int | None:
    """How a child ended: an exit code, or a signal below zero; None where it still runs after so many seconds."""
    deadline = time.monotonic() + within
    while True:
        found, status = os.waitpid(child, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status)
        if time.monotonic() >= deadline:
            return None
        time.sleep(0.005)


def kill(child: int) -> None:
    """At once."""
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
