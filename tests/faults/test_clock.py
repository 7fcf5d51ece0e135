"""A clock that is set, forward or back, while the service runs or stands still: what is urgent is told within seconds,
nothing is lost, nothing told twice, and every state is right once the clock is. Zones that change their clocks."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from sentinel.adapters.recipients import Addressee
from sentinel.application.service_health import parts_health
from sentinel.core.cases.kinds import CaseKind, NoticeKind, Severity
from sentinel.core.cases.lifecycle import CaseFinding, OpenCase, ReminderPolicy, Silence, stepped
from sentinel.core.cases.notice_policy import QuietHours
from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.checks import ArrivalsAround
from sentinel.render.notices import Letter
from sentinel.service import deliver, schedule
from sentinel.service.deliver import Deliverer, RetryPolicy
from sentinel.service.health import Troubles
from tests.support import cgats
from tests.support.amount import LONG, amount
from tests.support.cgats import FAILING, GOOD
from tests.support.clock import NOON, FakeClock
from tests.support.room import Room, Staff

HOUR, DAY, TEN_YEARS = timedelta(hours=1), timedelta(days=1), timedelta(days=3653)
JUMPS = [sign * span for span in (HOUR, DAY, 10 * DAY, TEN_YEARS) for sign in (1, -1)]
SOME = JUMPS if LONG else [-DAY, TEN_YEARS]
STANDING = ["running", "stopped"]
CONDITIONS = ("north/satin-240", "north/matte-190", "south/satin-240")
TEAM = Addressee("team", tuple(NoticeKind), ("json://a.example",))
POLICY = RetryPolicy(timedelta(seconds=10), timedelta(seconds=900), timedelta(hours=72))
SETTINGS = '[recipients.team]\nurl_env = "URL"\nquiet_hours = [22:00:00, 06:30:00]\n'


def named(span: timedelta) -> str:
    return f"{span / HOUR:+g} h"


@dataclass
class Works:
    """The service of a room without its threads: whatever it does at a tick, and the one recipient's delivery."""

    room: Room
    extra: str = ""
    clock: FakeClock = field(default_factory=FakeClock)
    there: bool = True

    def __post_init__(self) -> None:
        self.room.configure(extra=SETTINGS + self.extra)
        self.staff = Staff(self.room, self.clock, told=(TEAM,))
        self.letters: list[tuple[float, Letter]] = []
        self.begin()

    def begin(self) -> None:
        """After a stop: nothing of what was in memory is left."""
        self.staff.restart()
        self.troubles = Troubles(self.clock)
        quiet = self.staff.house.notices.subscriber("team", TEAM.kinds).quiet
        self.worker = Deliverer("team", self.staff.store, self, self.clock, POLICY, quiet=quiet)

    def send(self, _recipient: str, _url_no: int, letter: Letter) -> str | None:
        if not self.there:
            return "busy"
        self.letters.append((self.clock.elapsed(), letter))
        return None

    def set_clock(self, span: timedelta, how: str) -> None:
        self.clock.set_by(span)
        if how == "stopped":
            self.begin()

    def tick(self) -> None:
        if jump := self.troubles.watch_clock():
            self.staff.schedule.clock_jumped(jump)
        self.staff.schedule.tick(self.staff.house, self.troubles.found())
        while self.staff.forecaster.refresh(self.staff.house):
            pass
        self.deliver()

    def deliver(self) -> None:
        while self.worker.step() == 0.0:
            pass

    def passes(self, span: timedelta, every: timedelta = timedelta(minutes=30)) -> None:
        """Time goes by, with a tick now and then, and one at its end."""
        for _ in range(span // every):
            self.clock.advance(every.total_seconds())
            self.tick()

    def check(self, condition: str, shift: float = GOOD) -> None:
        text = cgats.text(shift, keywords={"FOR": f"{condition} {self.clock.elapsed()}"})
        self.staff.take(f"{condition}/sheet.txt", text)

    def urgent(self, condition: str) -> None:
        """A check of it fails, and that is told within seconds."""
        before = len(self.letters)
        self.check(condition, FAILING)
        self.clock.advance(5.0)
        self.deliver()
        told = [letter for _, letter in self.letters[before:] if letter.kind == "check-failed"]
        assert [letter.facts["severity"] for letter in told] == ["urgent"], condition

    def states(self) -> dict[str, str]:
        return {name: state for name, (state, _) in self.staff.room.records.service.announced().items()}

    def nothing_lost_or_twice(self) -> None:
        keys = [letter.key for _, letter in self.letters]
        assert len(keys) == len(set(keys))
        assert set(self.room.statuses()) <= {"sent", "summarised", "withdrawn"}


def with_history(room: Room, extra: str = "") -> Works:
    """Twelve days of checks, one condition after the other."""
    works = Works(room, extra)
    for number in range(12):
        works.check(CONDITIONS[number % 3])
        works.clock.advance(days=1)
    works.tick()
    works.letters.clear()
    return works


@pytest.fixture(autouse=True)
def _facts_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    from dataclasses import replace

    from sentinel.core.cases.records import Notice
    from sentinel.render.notices import Letters

    plain = Letters.letter

    def with_facts(self: Letters, notice: Notice) -> Letter:
        return replace(plain(self, notice), facts=notice.facts)

    monkeypatch.setattr(Letters, "letter", with_facts)


@pytest.mark.parametrize("how", STANDING)
@pytest.mark.parametrize("jump", SOME, ids=named)
def test_a_clock_that_is_wrong_for_a_while(room: Room, jump: timedelta, how: str) -> None:
    works = with_history(room)
    works.check(CONDITIONS[0], FAILING)  # waits to be told when the clock is set
    works.set_clock(jump, how)
    works.tick()
    assert [letter.kind for _, letter in works.letters if letter.facts.get("severity") == "urgent"] == ["check-failed"]
    works.urgent(CONDITIONS[1])
    works.passes(2 * HOUR, every=HOUR)
    works.set_clock(-jump, how)
    works.tick()
    works.urgent(CONDITIONS[2])
    assert [works.states()[name] for name in CONDITIONS] == ["due"] * 3
    for name in CONDITIONS:
        works.clock.advance(60.0)
        works.check(name)
    works.passes(20 * HOUR, every=5 * HOUR)
    assert [works.states()[name] for name in CONDITIONS] == ["current"] * 3
    ended = [letter.facts for _, letter in works.letters if letter.kind == "recovered" and "printer" in letter.facts]
    assert len(ended) == 3
    works.passes(9 * DAY, every=3 * DAY)
    assert [works.states()[name] for name in CONDITIONS] == ["due"] * 3
    works.nothing_lost_or_twice()


@pytest.mark.parametrize("how", STANDING)
@pytest.mark.parametrize(
    "jump", [span for span in JUMPS if span > timedelta()] if LONG else [DAY, TEN_YEARS], ids=named
)
def test_a_check_dated_ahead_keeps_nothing_current_for_ever(room: Room, jump: timedelta, how: str) -> None:
    works = with_history(room)
    works.set_clock(jump, how)
    works.check(CONDITIONS[0])
    works.set_clock(-jump, how)
    found = set()
    for _ in range(5):
        works.passes(2 * DAY, every=2 * DAY)
        found.add(works.states()[CONDITIONS[0]])
    assert "due" in found


@pytest.mark.parametrize("jump", SOME, ids=named)
def test_nobody_is_out_of_reach_for_long_because_a_clock_was_set_in_an_outage(
    room: Room, jump: timedelta, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(deliver, "IDLE_SECONDS", 300.0)
    works = Works(room)
    works.there = False
    works.check(CONDITIONS[0], FAILING)
    works.deliver()
    works.set_clock(jump, "running")
    ends = works.clock.elapsed() + 3600.0 * amount(6, 24)
    while works.clock.elapsed() < ends:
        works.clock.advance(max(1.0, works.worker.step()))
    works.there = True
    ends = works.clock.elapsed() + 900.0
    while works.clock.elapsed() < ends:
        works.clock.advance(max(1.0, works.worker.step()))
    assert [letter.kind for _, letter in works.letters] == ["check-failed"]
    works.nothing_lost_or_twice()


DAILY = "[notices]\ndaily_at = 07:30:00\n"


@pytest.fixture
def news(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every day there is something that the last summary could not tell."""
    monkeypatch.setattr(schedule.DailySummary, "_news", lambda *_args: True)


def summaries(works: Works) -> list[Letter]:
    return [letter for _, letter in works.letters if letter.key.startswith("daily-")]


@pytest.mark.usefixtures("news")
@pytest.mark.parametrize("jump", SOME, ids=named)
def test_every_day_has_one_daily_summary_though_the_clock_was_wrong_for_an_hour(room: Room, jump: timedelta) -> None:
    works = Works(room, DAILY)
    works.tick()
    assert len(summaries(works)) == 1
    works.set_clock(jump, "running")
    works.passes(HOUR, every=HOUR / 2)
    works.set_clock(-jump, "running")
    works.tick()
    assert len(summaries(works)) == 1
    works.passes(3 * DAY, every=3 * HOUR)
    assert len(summaries(works)) == 4


@pytest.mark.usefixtures("news")
@pytest.mark.parametrize("jump", SOME, ids=named)
def test_a_clock_set_while_it_was_stopped_costs_one_summary_at_most(room: Room, jump: timedelta) -> None:
    works = Works(room, DAILY)
    works.tick()
    works.set_clock(jump, "stopped")
    works.passes(HOUR, every=HOUR / 2)
    works.set_clock(-jump, "stopped")
    works.passes(4 * DAY, every=3 * HOUR)
    assert 4 <= len(summaries(works)) <= 7


KIND = CaseKind.CHECK_FAILED
HOLDS = CaseFinding(True, 1)
HABITS = ReminderPolicy(remind=4 * HOUR, escalations=(3.0,), calm=timedelta(minutes=10))


@pytest.mark.parametrize("jump", JUMPS, ids=named)
def test_a_reminder_and_an_escalation_come_no_later_than_twice_their_wait(jump: timedelta) -> None:
    told = OpenCase(1, 1, 1, NOON, NOON, escalated=3.0)
    opened = OpenCase(1, 1, 1, NOON, NOON)
    for case, step in ((told, "reminded"), (opened, "escalated")):
        found = [stepped(KIND, case, HOLDS, HABITS, NOON + jump + hours * HOUR) for hours in range(9)]
        assert step in [each.step.value for each in found if each is not None]


@pytest.mark.parametrize("back", [HOUR, 2 * DAY, TEN_YEARS], ids=named)
def test_a_silence_of_an_hour_does_not_last_longer_by_a_clock_that_was_set_back(back: timedelta) -> None:
    held = Silence(NOON + HOUR, Severity.URGENT, acknowledged=True, since=NOON)
    assert held.holds(NOON)
    assert not held.holds(NOON + HOUR)
    assert held.holds(NOON - back) is (back <= HOUR)


def test_a_part_whose_last_moment_lies_ahead_is_late() -> None:
    ahead = parts_health({"intake": NOON + DAY, "clock": NOON - timedelta(seconds=30)}, (), 30.0, NOON)
    assert (ahead["intake"].late, ahead["clock"].late) == (True, False)


def test_which_clock_was_wrong_is_told_from_where_the_records_lie() -> None:
    long_ago, lately = NOON - 30 * DAY, NOON - HOUR
    assert not ArrivalsAround(lately, None, None).clock_is_behind(NOON)
    assert not ArrivalsAround(lately, NOON + TEN_YEARS, NOON + TEN_YEARS + HOUR).clock_is_behind(NOON)
    assert ArrivalsAround(long_ago, NOON + HOUR, NOON + 10 * DAY).clock_is_behind(NOON)
    assert ArrivalsAround(None, NOON + TEN_YEARS, NOON + 11 * TEN_YEARS / 10).clock_is_behind(NOON)


ZONES = ("Europe/Berlin", "America/St_Johns", "Australia/Lord_Howe")
SEASONS = {
    "Europe/Berlin": (datetime(2026, 3, 29, tzinfo=UTC), datetime(2026, 10, 25, tzinfo=UTC)),
    "America/St_Johns": (datetime(2026, 3, 8, tzinfo=UTC), datetime(2026, 11, 1, tzinfo=UTC)),
    "Australia/Lord_Howe": (datetime(2026, 10, 3, tzinfo=UTC), datetime(2026, 4, 4, tzinfo=UTC)),
}
DAYS = [(zone, day) for zone in ZONES for day in SEASONS[zone]]
DAYS += [("Europe/Berlin", datetime(2028, 2, 29, tzinfo=UTC)), ("America/St_Johns", datetime(2026, 12, 31, tzinfo=UTC))]


@pytest.mark.parametrize(("zone", "day"), DAYS, ids=lambda value: value if isinstance(value, str) else f"{value:%F}")
def test_quiet_hours_end_in_time_whatever_the_clocks_do(zone: str, day: datetime) -> None:
    place = ZoneInfo(zone)
    for begins, ends in ((time(22), time(6, 30)), (time(1), time(3)), (time(2, 15), time(2, 45))):
        quiet = QuietHours(begins, ends, calendar=Calendar(place))
        for minutes in range(0, 72 * 60, 15):
            now = day - DAY + timedelta(minutes=minutes)
            until = quiet.until(now)
            assert now <= until <= now + timedelta(hours=10)
            assert quiet.until(until) == until


@pytest.mark.usefixtures("news")
@pytest.mark.parametrize(("zone", "day"), DAYS, ids=lambda value: value if isinstance(value, str) else f"{value:%F}")
@pytest.mark.parametrize("at", ["02:30:00", "07:30:00"] if LONG else ["02:30:00"])
def test_every_day_has_its_one_summary_also_where_the_clocks_change(
    room: Room, zone: str, day: datetime, at: str
) -> None:
    room_in = f"[notices]\ndaily_at = {at}\n"
    works = Works(room, room_in, FakeClock(day - DAY))
    works.room.configure(('name = "hall"', f'name = "hall"\ntimezone = "{zone}"'), extra=SETTINGS + room_in)
    works.begin()
    works.tick()
    for _ in range(72 * 2):
        works.clock.advance(1800.0)
        works.staff.schedule.daily(works.staff.house)
    works.deliver()
    days = [
        datetime.strptime(letter.key.split("-")[1], "%Y%m%dT%H%M%S").replace(tzinfo=UTC) for letter in summaries(works)
    ]
    local = [each.astimezone(ZoneInfo(zone)).date() for each in days]
    assert len(local) == len(set(local))
    assert len(local) >= 3
