"""Whatever happens to a printing condition, all that is told of it agrees: notices, status, explain, cases.

Random histories of sheets, events, acknowledgements, takings back and time, played on the real store.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sentinel.adapters.files.stamps import TargetHashes
from sentinel.application.cases import SilenceWanted, listed_cases, silence_cases
from sentinel.application.conditions import explained, room_status
from sentinel.application.voiding import void_check
from sentinel.core.cases.kinds import CaseStep, NoticeKind
from sentinel.core.cases.standing import Production
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.name import ConditionName
from sentinel.errors import AdminError
from sentinel.render.notices import rendered_notice
from tests.support import cgats
from tests.support.amount import amount
from tests.support.room import Room, Staff

HISTORIES = amount(6, long=400)
STEPS = 25
PLACE, NAME = "north/satin-240", ConditionName("north", "satin-240")

WORDS = {
    Production.GO: ("may go on.", "may go on; the last sheet was within tolerance."),
    Production.NOT_KNOWN: ("may go on; work that must match is unproven until a check has passed.",),
    Production.NOT_MATCHING: (
        "may go on, but not work that must match.",
        "may go on; hold work that must match until this is confirmed.",
        "may go on, but hold work that must match until the colour lead has decided.",
        "hold work that must match until the sheet has been read again: nothing is known of it.",
    ),
    Production.HOLD: ("hold prints on this stock until somebody has looked.",),
}


@dataclass
class History:
    """One room, one random history."""

    staff: Staff
    rng: np.random.Generator
    sheets: int = 0
    seen: int = 0
    contradictions: list[str] = field(default_factory=list)

    def play(self) -> list[str]:
        for _ in range(STEPS):
            self._something()
            self.staff.schedule.tick(self.staff.house)
            self._compare()
        return self.contradictions

    def _something(self) -> None:
        clock, happening = self.staff.clock, int(self.rng.integers(8))
        clock.advance(float(self.rng.choice([60.0, 3600.0, 30_000.0])))
        if happening < 4:
            self._sheet()
        elif happening == 4:
            self._event(str(self.rng.choice(["heads", "service", "recalibration", "stock-lot"])))
        elif happening == 5:
            clock.advance(days=float(self.rng.integers(1, 10)))
        elif happening == 6:
            self._acknowledge()
        else:
            self._take_back()

    def _sheet(self) -> None:
        self.sheets += 1
        shift = float(self.rng.choice([0.1, 0.3, 1.9, 3.5, 9.0, 20.0]))
        late = timedelta(hours=float(self.rng.choice([0, 0, 0, 30, 200])))
        self.staff.take(
            f"{PLACE}/{self.sheets}.txt", cgats.text(shift + self.sheets * 1e-3), at=self.staff.clock.now() - late
        )

    def _event(self, kind: str) -> None:
        whole = kind in ("heads", "service")
        facts = {"lot": "L1"} if kind == "stock-lot" else {}
        event = Event(
            EventKind(kind), self.staff.clock.now(), "north", None if whole else "satin-240", facts=facts, told_by="Ana"
        )
        with self.staff.store.transaction() as session:
            session.events.add(event, None, self.staff.clock.now())

    def _acknowledge(self) -> None:
        listed = self.staff.room.records.cases.listed()
        if listed:
            chosen = listed[int(self.rng.integers(len(listed)))]
            silence = SilenceWanted(bool(self.rng.integers(2)), "Ana", span="8h")
            room = self.staff.room
            silence_cases(
                self.staff.house,
                lambda: _kept_open(self.staff),
                lambda: room.records,
                TargetHashes(),
                [chosen.case.number],
                silence,
                self.staff.clock.now(),
            )

    def _take_back(self) -> None:
        checks = self.staff.room.checks()
        if checks:
            chosen = checks[int(self.rng.integers(len(checks)))]
            room = self.staff.room
            with suppress(AdminError):  # it was taken back before
                void_check(
                    lambda: room.records,
                    lambda: _kept_open(self.staff),
                    chosen.seq,
                    "Ana",
                    "wrong sheet",
                    self.staff.clock.now(),
                )

    def _compare(self) -> None:
        """What the notices of this moment say, against what the commands say now."""
        records, house, now = self.staff.room.records, self.staff.house, self.staff.clock.now()
        stand = room_status(house, records, TargetHashes(), now).standings[PLACE]
        _, same = explained(house, records, TargetHashes(), NAME, now)
        self._hold(same == stand, f"explain {same}, status {stand}")
        for shown in listed_cases(house, records, TargetHashes(), False, now):
            if shown.record.subject == PLACE:
                self._hold(shown.standing == stand, f"cases {shown.standing}, status {stand}")
                self._hold(shown.number == stand.number, f"case {shown.number}, status {stand.number}")
        posted = [each for each in self.staff.room.notices() if each.seq > self.seen]
        for each in posted:
            self.seen = max(self.seen, each.seq)
            self._agrees(each.notice, stand.production, stand.number)

    def _agrees(self, notice: Any, production: Production, number: int | None) -> None:
        body = rendered_notice(notice).body
        told = {word for word, texts in WORDS.items() if any(f"Production: {text}" in body for text in texts)}
        self._hold(told == {production}, f"{notice.kind} says {told}, status {production}: {body[:200]}")
        if notice.facts.get("step") != CaseStep.CLOSED.value:
            named = re.search(rf"\bcases? (\d+, )*{number}\b", body) is not None
            self._hold(named, f"{notice.kind} does not name case {number}: {body[-300:]}")

    def _hold(self, holds: bool, words: str) -> None:
        if not holds:
            self.contradictions.append(words)


def _kept_open(staff: Staff) -> Any:
    """The store as a command opens it; it is the service's own and stays open."""

    class Kept:
        def __enter__(self) -> Any:
            return staff.store

        def __exit__(self, *_: object) -> None:
            return None

    return Kept()


@pytest.fixture(params=range(HISTORIES))
def history(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[History]:
    room = Room(tmp_path / "room")
    room.configure()
    staff = Staff(room)
    yield History(staff, np.random.default_rng(20_260 + request.param))
    staff.store.close()


def test_no_two_voices_contradict_one_another(history: History) -> None:
    assert history.play() == []


def test_nothing_is_told_twice_of_one_step(history: History) -> None:
    history.play()
    keys = [each.notice.key for each in history.staff.room.notices() if each.notice.kind is not NoticeKind.SUMMARY]
    assert len(keys) == len(set(keys))
