"""File-system events as they come: they say where to look, the scan says what is there."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Literal, Protocol

import structlog
from watchdog.events import FileClosedEvent, FileMovedEvent, FileSystemEvent, FileSystemEventHandler
from watchdog.observers.inotify import InotifyObserver

from sentinel.adapters.files.drop_folder import DropFolders

log = structlog.get_logger()

Hint = Callable[[str | None], None]
"""Called from another thread with the path of a file that was closed or moved in, or None for any other change."""

POLL_SECONDS = 1.0

AGAIN_SECONDS = 600.0
"""After so long it is tried again to have the system tell of new files, where it would not."""


class _Watch(Protocol):
    fault: str | None

    def is_alive(self) -> bool: ...
    def stop(self) -> None: ...


class Watch:
    """Watches folders by the system's events until stopped. Folders that are not there are left to the scan.

    `fault` is why they are not watched.
    """

    def __init__(self, folders: Sequence[Path], hint: Hint) -> None:
        self.fault: str | None = None
        self._observer = InotifyObserver(generate_full_events=True)
        try:
            for folder in folders:
                if folder.is_dir():
                    self._observer.schedule(_Hints(hint), str(folder), recursive=True)
            self._observer.start()
        except (OSError, RecursionError) as fault:  # the system's limit of watches, for one; or folders without end
            self.fault = str(fault)
            log.warning("folders are not watched, they are listed every second instead", fault=self.fault)

    def stop(self) -> None:
        """Ends the watching threads."""
        self._observer.stop()
        if self._observer.ident is not None:
            self._observer.join(timeout=5.0)

    def is_alive(self) -> bool:
        """Whether every watching thread still runs: one whose folder was removed is dead, the observer is not."""
        return self._observer.is_alive() and all(emitter.is_alive() for emitter in self._observer.emitters)


class Polling:
    """Has somebody look every second, for folders that tell of nothing: the look itself says what is there."""

    def __init__(self, hint: Hint, fault: str | None = None) -> None:
        """`fault` is why the folders are not watched by the system's events."""
        self.fault = fault
        self._hint = hint
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._go, name="polling", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Ends the thread."""
        self._stopped.set()
        self._thread.join(timeout=5.0)

    def is_alive(self) -> bool:
        """Whether the thread runs."""
        return self._thread.is_alive()

    def _go(self) -> None:
        while not self._stopped.wait(POLL_SECONDS):
            self._hint(None)


class _Hints(FileSystemEventHandler):
    """An exception here would end the observer for good, so all it does is pass a name on."""

    def __init__(self, hint: Hint) -> None:
        self._hint = hint

    def on_any_event(self, event: FileSystemEvent) -> None:
        if event.event_type in ("opened", "closed_no_write", "deleted", "attrib"):
            return
        if isinstance(event, FileClosedEvent):
            self._hint(str(event.src_path))
        elif isinstance(event, FileMovedEvent):
            self._hint(str(event.dest_path))
        else:
            self._hint(None)


class FolderWatch:
    """A watch that is begun anew whenever a folder was replaced, mounted again, or its watcher died."""

    def __init__(self, folders: DropFolders, how: Literal["events", "polling"], hint: Hint) -> None:
        self._folders = folders
        self._how = how
        self._hint = hint
        self._again_at = 0.0
        self._begin()

    def refresh(self) -> bool:
        """Begins anew where that is needed, and tells whether it was."""
        again = self._watch.fault is not None and time.monotonic() >= self._again_at
        if self._watch.is_alive() and self._identities == self._folders.identities() and not again:
            return False
        self._watch.stop()
        self._begin()
        return True

    def missing(self) -> list[str]:
        """Drop folders that cannot be listed now."""
        return [str(folder) for folder in self._folders.missing()]

    def fault(self) -> str | None:
        """Why they are not watched."""
        return self._watch.fault

    def stop(self) -> None:
        """Ends the watching threads."""
        self._watch.stop()

    def _begin(self) -> None:
        self._identities = self._folders.identities()
        self._watch: _Watch = Polling(self._hint) if self._how == "polling" else Watch(self._folders.drop, self._hint)
        if self._watch.fault is not None:
            self._watch.stop()
            self._watch = Polling(self._hint, self._watch.fault)
            self._again_at = time.monotonic() + AGAIN_SECONDS
