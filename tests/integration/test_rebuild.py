"""After late files, files sent again for another condition, checks and events taken back and new targets, everything
derived equals what a fresh store with the same records, in the order in which they were measured, derives."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest

from sentinel.application.causes import bound_to_check, causes_told
from sentinel.application.checking import learnt_here
from sentinel.application.conditions import standings, states_now
from sentinel.core.cases.findings import findings, leading, withheld_findings
from sentinel.core.cases.kinds import CaseKind
from sentinel.core.conditions.events import Event, EventKind, Undoing
from sentinel.core.conditions.forecasts import ConditionForecast
from tests.support import cgats
from tests.support.amount import amount
from tests.support.cgats import FAILING, GOOD
from tests.support.clock import FakeClock
from tests.support.room import Room, Staff

CONDITIONS = ("north/satin-240", "north/matte-190", "south/satin-240")
CAUSES = ("solid-off-aim", "tone-shift", "patch-order", "healthy", "other")
SHIFTS = (GOOD, GOOD, GOOD, 1.0, 2.2, 5.0, FAILING)
EXTRA = "[due]\ntarget_changed = true\nlimits_changed = true\nwarned_times = 2\n[notices]\ncalm_minutes = 0\n"


class History:
    """What happens in a room, at random."""

    def __init__(self, room: Room, seed: int) -> None:
        self.random = Random(seed)
        room.configure(extra=EXTRA)
        self.staff = Staff(room)
        self.sent: list[str] = []
        self.clock = self.staff.clock

    def happens(self) -> None:
        self.random.choice(
            [self.check] * 6
            + [self.late, self.late, self.again, self.event, self.undo, self.void, self.target, self.tell, self.tell]
        )()
        self.clock.advance(3600.0 * self.random.choice([1, 12, 30, 72]))
        if self.random.random() < 0.5:
            self.settle()

    def settle(self) -> None:
        settled(self.staff)

    def check(self, ago: timedelta = timedelta()) -> None:
        at = self.clock.now() - ago
        text = cgats.text(
            self.random.choice(SHIFTS), created=f"{at:%Y-%m-%dT%H:%M:%S}", keywords={"FOR": str(len(self.sent))}
        )
        self.sent.append(text)
        self.drop(text)

    def drop(self, text: str) -> None:
        self.staff.take(f"{self.random.choice(CONDITIONS)}/sheet.txt", text)

    def late(self) -> None:
        self.check(timedelta(hours=self.random.randint(1, 400)))

    def take_back(self, text: str) -> None:
        """The check that this file brought, if it did."""
        sha256 = hashlib.sha256(text.encode()).hexdigest()
        found = [check.seq for check in self.staff.room.checks() if check.sha256 == sha256]
        with self.staff.store.transaction() as session:
            for seq in found:
                session.checks.void(seq, "Ana", "wrong sheet", self.clock.now())

    def again(self) -> None:
        if self.sent:
            self.drop(self.random.choice(self.sent))

    def event(self) -> None:
        kind = self.random.choice([EventKind.HEADS, EventKind.RECALIBRATION, EventKind.SERVICE, EventKind.INK_LOT])
        at = self.clock.now() - timedelta(hours=self.random.choice([0, 0, 5, 100]))
        with self.staff.store.transaction() as session:
            session.events.add(Event(kind, at, self.random.choice(["north", "south"])), None, self.clock.now())

    def undo(self) -> None:
        known = self.staff.room.records.events.recorded()
        if known:
            with self.staff.store.transaction() as session:
                session.events.undo(self.random.choice(known).event.seq, Undoing("Ana", "a slip", self.clock.now()))

    def void(self) -> None:
        checks = self.staff.room.checks()
        if checks:
            with self.staff.store.transaction() as session:
                session.checks.void(self.random.choice(checks).seq, "Ana", "wrong sheet", self.clock.now())

    def tell(self) -> None:
        """What one of the checks really had, by evidence or by the look of it."""
        counting = [check for check in self.staff.room.checks() if self.counts(check.seq)]
        if counting:
            check = self.random.choice(counting)
            cause, seen_by = self.random.choice(CAUSES), self.random.choice(["label", "nozzle-print", "look"])
            facts = {"check": check.seq, "cause": cause, "seen_by": seen_by}
            printer, substrate = check.condition.split("/")
            told = Event(EventKind.CAUSE, self.clock.now(), printer, substrate, None, facts, "Ana")
            with self.staff.store.transaction() as session:
                session.events.add(bound_to_check(told, session.checks), None, self.clock.now())

    def counts(self, seq: int) -> bool:
        return not self.staff.room.records.checks.is_countered(seq)

    def target(self) -> None:
        text = cgats.text(self.random.choice([0.0, 0.1]))
        (self.staff.room.folder / "targets" / "house.txt").write_text(text)


def rebuilt(room: Room, folder: Path, clock: FakeClock) -> Staff:
    """Workers over a fresh store with the records that hold alone, in the order of the time they tell of."""
    fresh = Room(folder)
    fresh.config.write_text(room.config.read_text())
    target = Path("targets") / "house.txt"
    (folder / target).write_text((room.folder / target).read_text())
    staff = Staff(fresh, FakeClock(clock.now()))
    countered = "SELECT kind FROM entries.check_counter_entry WHERE check_seq = o.seq ORDER BY seq DESC LIMIT 1"
    with closing(sqlite3.connect(fresh.store)) as database, database:
        database.execute("ATTACH ? AS entries", (str(room.store),))
        database.execute("INSERT INTO chart SELECT * FROM entries.chart")
        _copied(
            database, "check", f"FROM entries.\"check\" AS o WHERE coalesce(({countered}), 'reinstated') = "
            "'reinstated' ORDER BY measured_at, seq",
        )  # fmt: skip
        _copied(
            database, "event", "FROM entries.event AS o WHERE undoes_seq IS NULL AND NOT EXISTS "
            "(SELECT 1 FROM entries.event AS u WHERE u.undoes_seq = o.seq) ORDER BY at, seq",
        )  # fmt: skip
        _renumbered(database)
    settled(staff)
    return staff


def _renumbered(database: sqlite3.Connection) -> None:
    """Causes told of checks under the numbers that these have here; those of checks that do not hold are left out."""
    same = "n.sha256 = o.sha256 AND n.table_no = o.table_no AND n.condition = o.condition"
    numbers = dict(database.execute(f'SELECT o.seq, n.seq FROM entries."check" AS o JOIN "check" AS n ON {same}'))  # noqa: S608
    for seq, facts in database.execute("SELECT seq, facts FROM event WHERE kind = 'cause'").fetchall():
        told = json.loads(facts)
        if told["check"] in numbers:
            here = json.dumps({**told, "check": numbers[told["check"]]})
            database.execute("UPDATE event SET facts = ? WHERE seq = ?", (here, seq))
        else:
            database.execute("DELETE FROM event WHERE seq = ?", (seq,))


def settled(staff: Staff) -> None:
    """Everything is foretold, and the clock has looked at what that makes due."""
    staff.schedule.tick(staff.house)
    while staff.forecaster.refresh(staff.house):
        pass
    staff.schedule.tick(staff.house)


def _copied(database: sqlite3.Connection, table: str, rows: str) -> None:
    columns = [row[1] for row in database.execute(f'PRAGMA table_info("{table}")')]
    wanted = ", ".join("row_number() OVER ()" if name == "seq" else name for name in columns)
    database.execute(f'INSERT INTO "{table}" SELECT {wanted} FROM (SELECT o.* {rows})')  # noqa: S608 - names of ours


def derived(staff: Staff) -> dict[str, Any]:
    """States with reasons and dates as they are now and as they were written down, forecasts, and where each stands as
    a case: since when, and under which number, is history."""
    records, house = staff.room.records, staff.house
    checks = {check.seq: check.sha256 for check in records.checks.recorded()}
    reports = states_now(house, records, staff.hashes, list(house.conditions), staff.clock.now())
    forecasts = records.forecasts.latest()
    told = causes_told(records)
    stand = standings(records, {str(name): report for name, report in reports.items()}, staff.clock.now())
    return {
        str(name): {
            "state": report.state.value,
            "reasons": [(each.code.value, str(each.message)) for each in report.reasons],
            "due_at": report.due_at,
            "last": checks[report.last.seq] if report.last else None,
            "decisive": checks[report.decisive.seq] if report.decisive else None,
            "announced": records.service.announced()[str(name)],
            "forecast": _foretold(forecasts.get(str(name)), checks),
            "standing": replace(stand[str(name)], number=None, since=None),
            "causes": {checks[seq]: (each.cause, each.seen_by, each.at) for seq, each in told.items()},
            "learnt": learnt_here(house.conditions[name].diagnosis, told.values()),
        }
        for name, report in reports.items()
    }


def _foretold(found: ConditionForecast | None, checks: dict[int, str]) -> Any:
    return None if found is None else (checks[found.check_seq], replace(found, check_seq=0).as_json())


@pytest.mark.parametrize("seed", range(amount(3, 8, "SENTINEL_REBUILDS")))
def test_everything_derived_equals_a_rebuild_from_the_records(room: Room, tmp_path: Path, seed: int) -> None:
    history = History(room, seed)
    for _ in range(amount(25, 60)):
        history.happens()
    history.settle()
    again = rebuilt(room, tmp_path / "rebuilt", history.clock)
    assert derived(history.staff) == derived(again)
    again.store.close()


@dataclass(frozen=True)
class Sheet:
    """One that came after so many hours; `late` was measured so long before."""

    hours: float
    place: str
    text: str
    late: timedelta


def sheets(random: Random, start: datetime, count: int) -> list[Sheet]:
    found, now = [], start
    for number in range(count):
        hours, late = random.choice([1, 12, 30, 72]), timedelta(hours=random.choice([0, 0, 0, 20, 100]))
        now += timedelta(hours=hours)
        created = f"{now - late:%Y-%m-%dT%H:%M:%S}"
        text = cgats.text(random.choice(SHIFTS), created=created, keywords={"FOR": str(number)})
        found.append(Sheet(hours, f"{random.choice(CONDITIONS[:2])}/sheet.txt", text, late))
    return found


@pytest.mark.parametrize("seed", range(amount(4, 12, "SENTINEL_REBUILDS")))
def test_after_a_voiding_everything_is_as_if_the_check_had_not_been(tmp_path: Path, seed: int) -> None:
    """Two rooms get the same sheets, but for those that the first one has and takes back at any later moment."""
    random = Random(seed)
    rooms = [History(Room(tmp_path / name), seed) for name in ("voided", "never")]
    came = sheets(random, rooms[0].clock.now(), amount(10, 25))
    wrong = {number for number in range(len(came)) if random.random() < 0.3}
    voided_after = {number: random.randint(number, len(came) - 1) for number in wrong}
    for number, sheet in enumerate(came):
        for history in rooms:
            history.clock.advance(3600.0 * sheet.hours)
            if history is rooms[0] or number not in wrong:
                history.staff.take(sheet.place, sheet.text)
            history.settle()
        for each in (known for known, after in voided_after.items() if after == number):
            rooms[0].take_back(came[each].text)
            rooms[0].settle()
    assert derived(rooms[0].staff) == derived(rooms[1].staff)
    keys = [(each.notice.key, each.notice.recipient) for each in rooms[0].staff.room.notices()]
    assert len(keys) == len(set(keys))
    for history in rooms:
        history.staff.store.close()


@pytest.mark.parametrize("seed", range(amount(2, 10)))
def test_a_case_is_open_exactly_where_what_it_is_about_holds(room: Room, seed: int) -> None:
    history = History(room, 1000 + seed)
    for _ in range(amount(20, 60)):
        history.happens()
        history.settle()
        staff = history.staff
        records, names = room.records, list(staff.house.conditions)
        reports = states_now(staff.house, records, staff.hashes, names, staff.clock.now())
        withheld = records.checks.withheld([str(name) for name in names])
        for name, report in reports.items():
            found = findings(report) | withheld_findings(withheld.get(str(name)))
            holding = {kind for kind, finding in found.items() if finding.holds}
            opened = set(records.cases.open().get(str(name), {})) - {CaseKind.FILE_UNSCORED}
            assert opened <= holding, name
            assert leading(opened) == leading(holding), name  # one that another speaks for need not be opened
