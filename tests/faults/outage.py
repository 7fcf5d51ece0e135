"""A month in which neither mail nor chat answers, and the day they are back; a report of what is told then.

python -m tests.faults.outage
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from sentinel.adapters.recipients import Addressee
from sentinel.adapters.store.store import Store
from sentinel.bootstrap import Assembly
from sentinel.core.cases.kinds import NoticeKind
from sentinel.render.notices import Letter
from sentinel.service.supervisor import go_round
from tests.faults.receivers import KEY, NAMED
from tests.support import cgats
from tests.support.clock import FakeClock
from tests.support.reading import ReaderHere
from tests.support.room import SITE, Room, rows

MAIL, CHAT = "colour-team", "night-desk"
STILL_FAILS, RECOVERED, FAILS_LATE = "north/satin-240", "north/matte-190", "south/satin-240"


@dataclass
class Inboxes:
    """Two receivers, both away while not `there`."""

    clock: FakeClock
    there: bool = True
    tries: int = 0
    letters: dict[str, list[tuple[datetime, str, str]]] = field(default_factory=lambda: {MAIL: [], CHAT: []})

    def send(self, recipient: str, _url_no: int, letter: Letter) -> str | None:
        self.tries += 1
        if not self.there:
            return "out of reach"
        message = letter.message()
        self.letters[recipient].append((self.clock.now(), message.title, message.body))
        return None

    def keys(self, recipient: str) -> Counter[str]:
        """Every notice that was told, by itself or by name in a summary."""
        return Counter(
            key for _, _, body in self.letters[recipient] for key in NAMED.findall(body) or KEY.findall(body)[-1:]
        )


class Outage:
    """A room, its service, its receivers; time passes hour by hour."""

    def __init__(self, folder: Path, give_up_hours: int, hours_a_round: int = 6) -> None:
        self.room, self.clock = Room(folder / "room"), FakeClock()
        self.inboxes = Inboxes(self.clock)
        self.store = Store(self.room.store, SITE)
        told = [Addressee(name, tuple(NoticeKind), ("json://never.example",)) for name in (MAIL, CHAT)]
        snapshot = self.room.configure(
            extra=f"[notices]\ngive_up_hours = {give_up_hours}\n"
            f"retry_seconds = {3600 * hours_a_round}\nretry_ceiling_seconds = {3600 * hours_a_round}\n"
        )
        assembly = Assembly(self.store, self.room.store, self.clock, notifier=self.inboxes, reader=ReaderHere())
        self._runtime = assembly.runtime(snapshot, told)
        self._deliverers = assembly.deliverers(snapshot, told)
        self._hours = hours_a_round
        self.waiting: list[int] = []
        self.back_at = self.clock.now()
        self._number = 0

    def close(self) -> None:
        self.store.close()

    def sheet(self, condition: str, shift: float) -> None:
        """A sheet of a printing condition."""
        self._number += 1
        text = f"{cgats.text(shift)}# {self._number}\n"
        self.room.put(f"{condition}/{self._number}.txt", text, at=self.clock.now())

    def pass_days(self, days: int, each: Callable[[int], None] = lambda _: None) -> None:
        """So many days, with what comes in the morning of each."""
        for day in range(days):
            each(day)
            for _ in range(24 // self._hours):
                self.clock.advance(3600 * self._hours)
                go_round(self._runtime, self._deliverers, self.store)
            self.waiting.append(self.statuses()["waiting"])

    def statuses(self) -> Counter[str]:
        """How many notices there are of each status."""
        return Counter(str(status) for (status,) in rows(self.room.store, "SELECT status FROM outbox"))


def lived_through(folder: Path, give_up_hours: int, days: int = 30, hours_a_round: int = 6) -> Outage:
    """Some calm days, the outage, and the longest wait between two reminders after it."""
    outage = Outage(folder, give_up_hours, hours_a_round)
    for condition in (STILL_FAILS, RECOVERED, FAILS_LATE):
        outage.sheet(condition, cgats.GOOD)
    outage.pass_days(2)
    outage.inboxes.there = False
    outage.pass_days(days, lambda day: _morning(outage, day, days))
    for letters in outage.inboxes.letters.values():
        letters.clear()
    outage.inboxes.there, outage.back_at = True, outage.clock.now()
    outage.pass_days(8)
    return outage


def _morning(outage: Outage, day: int, days: int) -> None:
    """One condition fails early and for good, one recovers, one fails near the end; files that are no measurements."""
    if day == 2:
        outage.sheet(STILL_FAILS, cgats.FAILING)
        outage.sheet(RECOVERED, cgats.FAILING)
    if day == 4:
        outage.sheet(RECOVERED, cgats.GOOD)
    if day == days - 2:
        outage.sheet(FAILS_LATE, cgats.FAILING)
    if day % 7 == 3 or day == days - 3:
        outage.room.put(f"north/{day}.txt", f"scribble {day} END_DATA", at=outage.clock.now() - timedelta(hours=1))


def main() -> None:
    """The report."""
    for hours in (72, 24 * 60):
        with tempfile.TemporaryDirectory() as folder:
            outage = lived_through(Path(folder), hours)
            lines = [
                f"give_up_hours {hours}: {outage.statuses()} in {outage.inboxes.tries} tries; waiting {outage.waiting}"
            ]
            for name, letters in outage.inboxes.letters.items():
                lines += [f"{name}: {at:%m-%d %H:%M} {title}\n{body}\n" for at, title, body in letters]
            print("\n".join(lines), flush=True)  # noqa: T201
            outage.close()


if __name__ == "__main__":
    main()
