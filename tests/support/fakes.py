"""Stand-ins for the ports of the service, each a handful of lines."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from types import SimpleNamespace
from typing import cast

from sentinel.core.cases.records import Notice, Posting, Queued, Waiting
from sentinel.core.dropped_file import DroppedFile
from sentinel.errors import PassingError
from sentinel.ports import WriteSession
from sentinel.render.notices import Letter
from tests.support.clock import NOON


class FakeNotifier:
    """Answers in turn what it was given, then accepts everything; keeps what was sent."""

    def __init__(self, *answers: str | None) -> None:
        self.answers = list(answers)
        self.sent: list[tuple[str, int, str]] = []
        self.bodies: list[str] = []

    def send(self, recipient: str, url_no: int, letter: Letter) -> str | None:
        text = letter.message()
        self.sent.append((recipient, url_no, text.title))
        self.bodies.append(text.body)
        return self.answers.pop(0) if self.answers else None


@dataclass
class Entry:
    waiting: Waiting
    next_try_at: datetime
    status: str = "waiting"
    answers: list[str] = field(default_factory=list)


class FakeOutbox:
    """A store of nothing but an outbox, in memory; `refuse` names calls it does not take, each as often as named."""

    def __init__(self, *notices: Notice, created_at: datetime = NOON) -> None:
        self.entries = [Entry(Waiting(seq, notice, created_at, 0), created_at) for seq, notice in enumerate(notices, 1)]
        self.refuse: list[str] = []

    @contextmanager
    def transaction(self, *, spends_reserve: bool = True) -> Iterator[WriteSession]:
        assert not spends_reserve
        yield cast("WriteSession", SimpleNamespace(outbox=self))

    def short_of_space(self) -> bool:
        return False

    def next_for(self, recipient: str, now: datetime) -> Waiting | None:
        self._may("next_for")
        ready = (each.waiting for each in self._open(recipient) if each.next_try_at <= now)
        return next(ready, None)

    def queued(self, recipient: str) -> list[Queued]:
        """None that is paced: how that is done is asked of the real store."""
        return []

    def backlog(self, recipient: str, apart: int, together: int, now: datetime) -> list[Waiting]:
        return []

    def gather(self, summary: Posting, members: Collection[int], at: datetime) -> None:
        raise AssertionError("nothing was crowded")

    def next_try_at(self, recipient: str) -> datetime | None:
        return min((each.next_try_at for each in self._open(recipient)), default=None)

    def sent(self, waiting: Waiting, at: datetime) -> None:
        self._may("sent")
        self._of(waiting).status = "sent"

    def failed(self, waiting: Waiting, at: datetime, answer: str, next_try_at: datetime) -> None:
        self._may("failed")
        entry = self._of(waiting)
        entry.answers.append(answer)
        entry.waiting = replace(waiting, tries=waiting.tries + 1)
        entry.next_try_at = next_try_at

    def given_up(self, waiting: Waiting, at: datetime, answer: str) -> None:
        self._may("given_up")
        self._of(waiting).status = "given-up"

    def reports(self, recipient: str, url_no: int) -> list[int]:
        """One that waits: what it says is asked of the real store."""
        return [0]

    def statuses(self) -> list[str]:
        return [each.status for each in self.entries]

    def _open(self, recipient: str) -> Iterable[Entry]:
        return [e for e in self.entries if e.waiting.notice.recipient == recipient and e.status == "waiting"]

    def _of(self, waiting: Waiting) -> Entry:
        [entry] = [each for each in self.entries if each.waiting.seq == waiting.seq]
        return entry

    def _may(self, call: str) -> None:
        if call in self.refuse:
            self.refuse.remove(call)
            raise PassingError("the store did not take a transaction: disk full")


class FakeReader:
    """Reads bytes, or fails as told."""

    def __init__(self, content: bytes | OSError = b"") -> None:
        self._content = content
        self.reads = 0

    def read(self, found: DroppedFile) -> bytes:
        self.reads += 1
        if isinstance(self._content, OSError):
            raise self._content
        return self._content


def found(
    relative: str = "north/sheet.txt",
    *,
    kind: str = "file",
    size: int = 100,
    written: datetime = NOON,
    inode: int = 1,
) -> DroppedFile:
    """An entry of the drop folder /drop."""
    nanoseconds = int(written.timestamp() * 1_000_000) * 1000
    return DroppedFile("/drop", relative, kind, inode, size, nanoseconds, nanoseconds)  # type: ignore[arg-type]


Whole = Callable[[DroppedFile], bool]


def whole(_entry: DroppedFile) -> bool:
    return True


def torn(_entry: DroppedFile) -> bool:
    return False
