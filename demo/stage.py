"""What the story can do and see: drop a file, wait for what must arrive, and say it."""

from __future__ import annotations

import time
from pathlib import Path

from demo import telling
from demo.faults import NotAsExpectedError
from demo.instrument import save
from demo.receivers import Received, Receivers
from demo.room import Room
from demo.service import Service

PATIENCE_SECONDS = 20.0
SILENCE_SECONDS = 2.0


class Stage:
    """The room, the service in it, and those who are told."""

    def __init__(self, room: Room, service: Service, receivers: Receivers) -> None:
        self.room = room
        self.service = service
        self._receivers = receivers
        self._chapters = 0

    def chapter(self, title: str, text: str) -> None:
        """Begins a chapter of the story."""
        self._chapters += 1
        telling.chapter(self._chapters, title, text)

    def drop(self, data: bytes, folder: str, name: str) -> Path:
        """Saves a reading into a folder below the drop folder."""
        path = self.room.drop / folder / name
        save(data, path)
        telling.happens("dropped", str(path.relative_to(self.room.folder)))
        return path

    def taken(self, *paths: Path) -> None:
        """Waits until the service has taken the files out of the drop folder."""
        end = time.monotonic() + PATIENCE_SECONDS
        while left := [path for path in paths if path.exists()]:
            self.service.must_run()
            if time.monotonic() > end:
                raise NotAsExpectedError(
                    f"expected {left[0]} to be taken in within {PATIENCE_SECONDS:g} seconds, it still lies there"
                )
            time.sleep(0.05)

    def arrive(self, count: int, title: str, *, paragraphs: int | None) -> list[Received]:
        """Waits for so many messages with this in their title, and shows the first one as far as wanted."""
        found = self._receivers.gather(count, PATIENCE_SECONDS)
        for message in found:
            if title not in message.title:
                raise NotAsExpectedError(f"expected a message '{title} ...' to {message.to}, got '{message.title}'")
        telling.message(found[0], paragraphs)
        for message in found[1:]:
            same = message.body == found[0].body
            telling.happens("received", f"{message.way} to {message.to}: {'the same text' if same else message.title}")
        return found

    def silence(self) -> None:
        """Makes sure that nobody is told anything for a moment."""
        message = self._receivers.next(SILENCE_SECONDS)
        if message is not None:
            raise NotAsExpectedError(f"expected no message, got '{message.title}' to {message.to}")
        telling.happens("received", "nothing, as it should be")

    def score(self, path: Path) -> None:
        """Asks what the service would say to a file, and shows the answer."""
        shown = str(path.relative_to(self.room.folder))
        telling.happens("asked", f"sentinel check {shown}")
        telling.quoted(self.service.asked("check", str(path)).replace(str(path), shown))

    def asked(self, command: str) -> None:
        """Asks the program something, and shows the answer."""
        telling.happens("asked", f"sentinel {command}")
        telling.as_printed(self.service.asked(*command.split()).replace(f"{self.room.folder}/", ""))
