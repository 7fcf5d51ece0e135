"""Whatever happens to a printing condition, all that is told of it agrees: notices, the daily summary, and what
`status`, `explain`, `round`, `checks` and `cases` print.

Random histories of sheets, events, acknowledgements, takings back, troubles and time, on the real store. Ten thousand
of them are played by hand: DEVELOPERS.md.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import nullcontext, suppress
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from sentinel.adapters.files.stamps import TargetHashes
from sentinel.adapters.store.read_session import ReadSession
from sentinel.application.cases import SilenceWanted, listed_cases, silence_cases
from sentinel.application.conditions import explained, room_status, standings_of
from sentinel.application.round import planned_round
from sentinel.application.second_readings import second_readings
from sentinel.application.sources import recorded_checks
from sentinel.application.voiding import void_check
from sentinel.cli.cases import case_json
from sentinel.cli.checks import recorded_json
from sentinel.cli.explain import explained_json
from sentinel.cli.round import round_json
from sentinel.cli.status import status_json
from sentinel.core.assessment import Assessment
from sentinel.core.cases.findings import WITHHELD
from sentinel.core.cases.kinds import CaseStep, NoticeKind, Trouble
from sentinel.core.cases.payloads import kept_message
from sentinel.core.cases.records import NoticeRecord
from sentinel.core.cases.standing import Production
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.message import msg
from sentinel.core.scoring.score import unscored
from sentinel.core.verdict import Code, Reason, Verdict
from sentinel.errors import AdminError
from sentinel.render.notices import rendered_notice
from sentinel.service.commit import Arrival, Committer
from sentinel.service.health import ServiceFault
from tests.support import cgats
from tests.support.amount import amount
from tests.support.room import Room, Staff

HISTORIES = amount(3, long=60, by_hand="SENTINEL_VOICE_HISTORIES")
FIRST = int(os.environ.get("SENTINEL_VOICE_FIRST", "0"))
STEPS = 25
PLACES = ("north/satin-240", "north/matte-190")
SHIFTS = (0.1, 0.3, 1.9, 3.5, 9.0, 20.0)
EXTRA = """
[due]
warned_times = 2
[notices]
remind_hours = 24
daily_at = 07:30:00
due_soon_days = 2
"""

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

Standings = dict[str, dict[str, Any]]


class Sheets:
    """What sheets of every kind come to, scored once: a history only dates them."""

    def __init__(self, staff: Staff) -> None:
        self.by_place: dict[str, list[Assessment]] = {}
        for place in PLACES:
            for number, shift in enumerate(SHIFTS):
                data, now = cgats.text(shift).encode(), staff.clock.now()
                assessed = staff.intake._assessed(f"{place}/{number}", data, place, "sheet", now, staff.house)
                self.by_place.setdefault(place, []).extend(assessed)

    def any(self, place: str, rng: np.random.Generator) -> Assessment:
        """One that is judged, or whose verdict is withheld."""
        found = self.by_place[place][int(rng.integers(len(self.by_place[place])))]
        if rng.random() > 0.15:
            return found
        code = list(WITHHELD.values())[int(rng.integers(2))]
        reason = Reason(code, msg("the patches stand in another order, or the stock is another"))
        return replace(found, score=replace(found.score, verdict=Verdict.UNSCORED, reasons=(reason,), recovered=False))


class History:
    """One room, one random history."""

    def __init__(self, staff: Staff, sheets: Sheets, seed: int) -> None:
        self.staff, self.sheets = staff, sheets
        self.rng = np.random.default_rng(20_260 + seed)
        self.committer = Committer(staff.store, staff.clock, staff.told, staff.hashes)
        self.number, self.seen, self.compared, self.seed = 0, 0, 0, seed
        self.troubles: set[str] = set()
        self.newest: list[NoticeRecord] = []
        self.contradictions: list[str] = []

    def play(self) -> list[str]:
        for _ in range(STEPS):
            self._something()
            if self.staff.room.records.outbox.listed(last=1) != self.newest:
                self._compare()
            found = [ServiceFault(Trouble.DROP_FOLDER_MISSING, name) for name in sorted(self.troubles)]
            self.staff.schedule.tick(self.staff.house, found)
            self._compare()
        return self.contradictions

    def _something(self) -> None:
        clock, happening = self.staff.clock, int(self.rng.integers(10))
        clock.advance(float(self.rng.choice([60.0, 3600.0, 30_000.0])))
        if happening < 4:
            self._sheet()
        elif happening == 4:
            self._event(str(self.rng.choice(["heads", "service", "recalibration", "stock-lot", "chart-printed"])))
        elif happening == 5:
            clock.advance(days=float(self.rng.integers(1, 10)))
        elif happening == 6:
            self._acknowledge()
        elif happening == 7:
            self._no_sheet()
        elif happening == 8:
            self.troubles ^= {"/drop/one"}
        else:
            self._take_back()

    def _arrival(self, folder: str, late: timedelta, assessment: Assessment) -> None:
        self.number += 1
        name = f"{self.seed}-{self.number}.txt"
        at = self.staff.clock.now() - late
        arrival = Arrival(f"{self.seed:032}{self.number:032}", name, folder, at, name, name, False, [assessment])
        self.committer.commit(arrival, self.staff.house)

    def _sheet(self) -> None:
        place = PLACES[int(self.rng.integers(2))]
        late = timedelta(hours=float(self.rng.choice([0, 0, 0, 30, 200])))
        self._arrival(place, late, self.sheets.any(place, self.rng))

    def _no_sheet(self) -> None:
        reason = Reason(Code.NOT_READABLE, msg("it is no measurement"))
        self._arrival("somewhere", timedelta(), Assessment(unscored(reason)))

    def _event(self, kind: str) -> None:
        whole = kind in ("heads", "service")
        facts = {"lot": "L1"} if kind == "stock-lot" else {}
        event = Event(
            EventKind(kind), self.staff.clock.now(), "north", None if whole else "satin-240", facts=facts, told_by="Ana"
        )
        with self.staff.store.transaction() as session:
            session.events.add(event, None, self.staff.clock.now())

    def _opened(self) -> Any:
        """The store as a command opens it; it is the service's own and stays open."""
        return cast("Any", nullcontext(self.staff.store))

    def _acknowledge(self) -> None:
        records, now = self.staff.room.records, self.staff.clock.now()
        listed = records.cases.listed()
        if listed:
            chosen = listed[int(self.rng.integers(len(listed)))].case
            number = chosen.number if self.rng.integers(2) else chosen.seq
            silence = SilenceWanted(bool(self.rng.integers(2)), "Ana", span="8h")
            silence_cases(self.staff.house, self._opened, lambda: records, TargetHashes(), [number], silence, now)

    def _take_back(self) -> None:
        checks, records = self.staff.room.checks(), self.staff.room.records
        if checks:
            chosen = checks[int(self.rng.integers(len(checks)))]
            with suppress(AdminError):  # it was taken back before
                void_check(lambda: records, self._opened, chosen.seq, "Ana", "wrong sheet", self.staff.clock.now())

    def _compare(self) -> None:
        """What the notices of this moment say, and one of the other commands, against what `status` says now."""
        house, records, hashes, now = self.staff.house, self.staff.room.records, TargetHashes(), self.staff.clock.now()
        found = room_status(house, records, hashes, now)
        shown = status_json(found.reports, found.standings, now)["conditions"]
        stand: Standings = {each["condition"]: each["standing"] for each in shown}
        for each in records.outbox.listed(last=STEPS):
            if each.seq > self.seen and each.notice.kind is NoticeKind.SUMMARY:
                self._summary_agrees(each, stand)
            elif each.seq > self.seen:
                self._agrees(each.notice.kind.value, each.notice.facts, stand, rendered_notice(each.notice).body)
        self.newest = records.outbox.listed(last=1)
        self.compared = self.seen
        self.seen = max((each.seq for each in self.newest), default=self.seen)
        (self._cases, self._checks, self._explained, self._round)[int(self.rng.integers(4))](records, stand, now)

    def _cases(self, records: ReadSession, stand: Standings, now: datetime) -> None:
        for shown in map(case_json, listed_cases(self.staff.house, records, TargetHashes(), False, now)):
            if shown["subject"] in stand:
                self._same(stand, shown["subject"], "cases", shown["standing"])
            self._holds(shown["standing"]["case"] == shown["case"], f"case {shown}")
            self._read_again(records, shown, now)

    def _read_again(self, records: ReadSession, shown: Mapping[str, Any], now: datetime) -> None:
        """What `cases` says of a second reading is what `explain` says, and what is told of that check now."""
        name = next((each for each in self.staff.house.conditions if str(each) == shown["subject"]), None)
        told = shown["read_again"]
        if name is None or told is None:
            return
        found = second_readings(records, self.staff.house, name, told["second"], now)
        self._holds(found.again is not None and found.again.as_json() == told, f"explain, read again: {found.again}")
        for each in records.outbox.listed(last=STEPS):
            facts = each.notice.facts
            check = (facts.get("check") or {}).get("seq")
            if check == told["second"] and facts.get("again") and each.seq > self.compared:
                said = kept_message(facts["again"]["sentence"])
                self._holds(str(said) == told["sentence"], f"{each.notice.kind} says {said}, cases {told['sentence']}")

    def _checks(self, records: ReadSession, stand: Standings, now: datetime) -> None:
        checks = recorded_checks(self.staff.house, records, None, 20)
        now_at = standings_of(self.staff.house, records, TargetHashes(), {each.condition for each in checks}, now)
        for line in (recorded_json(each, now_at[each.condition]) for each in checks):
            self._same(stand, line["condition"], "checks", line["standing"])

    def _explained(self, records: ReadSession, stand: Standings, now: datetime) -> None:
        for name in (each for each in self.staff.house.conditions if str(each) in PLACES):
            explanation, its = explained(self.staff.house, records, TargetHashes(), name, now)
            self._same(stand, str(name), "explain", explained_json(str(name), explanation, its, now)["standing"])

    def _round(self, records: ReadSession, stand: Standings, now: datetime) -> None:
        planned = planned_round(self.staff.house, lambda: records, TargetHashes(), None, False, now)
        printed = round_json(planned.plan, planned.room, planned.standings, now)
        for each in (*printed["charts"], *printed["left_out"]):
            self._same(stand, each["condition"], "round", each["standing"])

    def _summary_agrees(self, each: NoticeRecord, stand: Standings) -> None:
        """Of what came up with the summary itself; what waited for it was held to its own moment."""
        for entry in each.notice.facts["notices"]:
            if entry["kind"] in ("due-soon", "never-run") and str(entry["key"]).startswith(entry["kind"]):
                self._agrees(entry["kind"], entry["facts"], stand, None)

    def _agrees(self, kind: str, facts: Mapping[str, Any], stand: Standings, body: str | None) -> None:
        told = facts.get("conditions") or ([facts] if "standing" in facts else [])
        for each in told:
            place = f"{each['printer']}/{each['substrate']}"
            said = {name: each["standing"].get(name) for name in stand[place]}
            self._same(stand, place, kind, said)
            over = facts.get("step") == CaseStep.CLOSED.value
            if body is not None:
                word = Production(stand[place]["production"])
                self._holds(any(text in body for text in WORDS[word]), f"{kind} of {place} is {word}: {body[:300]}")
                if not over:
                    self._holds(stand[place]["case"] in facts["cases"], f"{kind} names no {stand[place]['case']}")
            if len(told) == 1 and body is not None:
                others = [text for other, texts in WORDS.items() for text in texts if other is not word]
                self._holds(not any(f"Production: {text}" in body for text in others), f"{kind}, {word}: {body[:300]}")

    def _same(self, stand: Standings, place: str, where: str, said: Mapping[str, Any]) -> None:
        self._holds(dict(said) == stand[place], f"{place}: {where} says {said}, status {stand[place]}")

    def _holds(self, holds: bool, words: str) -> None:
        if not holds:
            self.contradictions.append(f"history {self.seed}: {words}")


@pytest.fixture(scope="module")
def staff() -> Iterator[Staff]:
    """In memory where the machine has such a folder."""
    memory = Path("/dev/shm")  # noqa: S108 - a folder of its own is made there
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder:
        room = Room(Path(folder) / "room")
        south = (f'[conditions."south/{stock}"]\ntargets = ["house"]\n' for stock in ("satin-240", "film-clear"))
        room.configure(*((each, "") for each in south), extra=EXTRA)
        found = Staff(room)
        yield found
        found.store.close()


def forget(staff: Staff) -> None:
    """Everything that is on record, so that the next history begins in an empty room."""
    with staff.store.transaction() as session:
        writer = cast("Any", session).checks._records
        tables = [name for (name,) in staff.rows("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        for name in tables:
            if name not in ("alembic_version", "counter"):
                writer._raw.execute(f'DELETE FROM "{name}"')  # noqa: S608
    staff.clock.advance(days=30)


def test_no_two_voices_contradict_one_another(staff: Staff) -> None:
    sheets = Sheets(staff)
    contradictions: list[str] = []
    for seed in range(FIRST, FIRST + HISTORIES):
        forget(staff)
        history = History(staff, sheets, seed)
        contradictions += history.play()
        keys = [(each.notice.key, each.notice.recipient, each.notice.url_no) for each in staff.room.notices()]
        assert len(keys) == len(set(keys))
    assert contradictions == [], f"{len(contradictions)} in {HISTORIES} histories"
