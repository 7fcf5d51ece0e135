"""Whole histories of cases and deliveries on a real store: what each recipient has heard, in which order."""

from __future__ import annotations

import tempfile
from datetime import timedelta
from pathlib import Path

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from sentinel.adapters.recipients import Addressee
from sentinel.core.cases.kinds import NoticeKind, Trouble
from sentinel.render.notices import Letter
from sentinel.service.deliver import Deliverer, RetryPolicy
from sentinel.service.health import ServiceFault
from tests.faults.receivers import Log
from tests.support.amount import amount
from tests.support.room import Room, Staff, rows

NAMES = ("team", "boss")


class Listening:
    """A notifier that is told whether the next notices get through, and logs those that do."""

    def __init__(self) -> None:
        self.logs = {name: Log() for name in NAMES}
        self.well = True

    def send(self, recipient: str, _url_no: int, letter: Letter) -> str | None:
        if not self.well:
            return "busy"
        self.logs[recipient].bodies.append(letter.message().body)
        return None


class Histories(RuleBasedStateMachine):
    """Three troubles come and go while deliveries succeed, fail, or are given up."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        room = Room(Path(self.folder.name) / "room")
        room.configure(extra='[notices]\ncalm_minutes = 0\nremind_hours = 5\n[recipients.boss]\nurl_env = "B"\n')
        self.staff = Staff(
            room, told=tuple(Addressee(name, tuple(NoticeKind), ("json://a.example",)) for name in NAMES)
        )
        self.notifier = Listening()
        retry_policy = RetryPolicy(timedelta(minutes=1), timedelta(minutes=30), timedelta(hours=3), apart=3)
        clock, store = self.staff.clock, self.staff.store
        self.workers = [Deliverer(name, store, self.notifier, clock, retry_policy) for name in NAMES]
        self.there: set[int] = set()

    def teardown(self) -> None:
        self.staff.store.close()
        self.folder.cleanup()

    @rule(number=st.integers(0, 2))
    def it_comes_or_goes(self, number: int) -> None:
        self.there ^= {number}
        self._tick()

    @rule(minutes=st.sampled_from([1, 45, 400]))
    def time_passes(self, minutes: int) -> None:
        self.staff.clock.advance(60.0 * minutes)
        self._tick()

    @rule(worker=st.sampled_from([0, 1]), well=st.booleans())
    def somebody_is_told(self, worker: int, well: bool) -> None:
        self.notifier.well = well
        for _ in range(30):
            if self.workers[worker].step() != 0.0:
                return
        raise AssertionError("it never comes to rest")

    def _tick(self) -> None:
        found = [ServiceFault(Trouble.DROP_FOLDER_MISSING, f"/drop/{number}") for number in sorted(self.there)]
        self.staff.schedule.tick(self.staff.house, found)

    @invariant()
    def nobody_hears_of_an_end_without_its_beginning_or_anything_twice(self) -> None:
        for log in self.notifier.logs.values():
            told = log.told()
            assert len(told) == len(set(told)), "told twice, though nothing was killed"
            for place, key in enumerate(told):
                if key.endswith("-closed"):
                    begun = key.removesuffix("closed")
                    assert any(each.startswith(begun) for each in told[:place]), f"{key} out of nowhere"

    @invariant()
    def one_case_at_most_is_open_for_each_subject(self) -> None:
        opened = sorted(self.staff.room.open_cases())
        assert len(opened) == len(set(opened))
        folders = [subject for subject in opened if "drop-folder" in subject]
        assert folders == [f"service:drop-folder-missing:/drop/{number}" for number in sorted(self.there)]

    @invariant()
    def nothing_is_lost_inside_a_summary(self) -> None:
        orphans = rows(
            self.staff.room.store,
            "SELECT count(*) FROM outbox AS inside JOIN outbox AS summary ON summary.seq = inside.summary_seq "
            "WHERE inside.status = 'summarised' AND summary.status != 'waiting'",
        )
        assert orphans == [(0,)]


TestHistories = Histories.TestCase
TestHistories.settings = settings(
    max_examples=amount(6, long=30),
    stateful_step_count=25,
    phases=[Phase.generate],
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
