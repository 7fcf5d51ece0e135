"""A recorded history under two settings: what is compared, what is left out and said to be, and nothing made up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.application.rejudging import History, rejudged
from sentinel.core.conditions.checks import PastScore
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.events import ANSWERED_FOR, Event, EventKind
from sentinel.core.conditions.state import State
from sentinel.core.history import Both, OneSided, Rejudged
from sentinel.core.scoring.policy import ScoringOptions, TargetSource, mark
from sentinel.core.verdict import Verdict
from sentinel.settings.resolving import Snapshot
from tests.support.amount import amount
from tests.support.clock import NOON
from tests.support.room import Room
from tests.support.toml import limits_for
from tests.unit.core.builders import CMYK, days

SATIN = "north/satin-240"
AIM = "d" * 64


class OneHash:
    """Every target is the same file."""

    def hash_of(self, name: str, source: TargetSource, versions: object) -> str | None:
        return AIM


@pytest.fixture
def room(tmp_path: Path) -> Room:
    return Room(tmp_path / "room")


def score(day: float = 0, mean: float = 1.0, seq: int = 1, condition: str = SATIN, **changes: object) -> PastScore:
    """A check measured so many days after NOON, with the verdict of the house limits."""
    verdict = Verdict.FAIL if mean > 3 else Verdict.WARN if mean > 2 else Verdict.PASS
    plain = PastScore(
        seq=seq,
        condition=condition,
        measured_at=NOON + days(day),
        verdict=verdict,
        recovered=verdict is not Verdict.FAIL,
        target="house",
        target_hash=AIM,
        metrics={"all": {"de00_mean": mean}},
        reckoning=ScoringOptions(),
        inks=CMYK,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def tried(
    running: Snapshot,
    edited: Snapshot,
    *scores: PastScore,
    events: Sequence[Event] = (),
    since: datetime | None = None,
    day: float = 10,
) -> Rejudged:
    """Looked at `day` days after NOON."""
    standing: dict[str, list[PastCheck]] = {}
    for each in scores:
        marked = mark(limits_for(running.loaded.settings, "house", SATIN))
        check = PastCheck(each.seq, each.measured_at, each.verdict, each.recovered, each.target_hash, marked)
        standing.setdefault(each.condition, []).append(check)
    history = History(sorted(scores, key=lambda each: each.order), events, standing, lambda _: ())
    return rejudged(Both(running.house, edited.house), history, OneHash(), since, NOON + days(day))


def edited(room: Room, extra: str) -> tuple[Snapshot, Snapshot]:
    return room.snapshot(), room.configure(extra=extra)


TIGHT = "\n[limits.house]\nall.de00_mean = { warn = 0.5, act = 1.5 }\n"


def test_tighter_limits_bring_failures_and_their_alarms(room: Room) -> None:
    found = tried(*edited(room, TIGHT), score(0, 1.0, 1), score(1, 1.8, 2), score(2, 1.0, 3), day=3)
    assert [(each.score.seq, *(side.verdict.value for side in each.judged)) for each in found.verdict_changes] == [
        (3, "pass", "warn"),
        (2, "pass", "fail"),
        (1, "pass", "warn"),
    ]
    assert [
        (change.running, change.either.alarm.kind.value, change.either.alarm.check) for change in found.alarm_changes
    ] == [
        (None, "recovered", 3),
        (None, "check-failed", 2),
    ]
    assert found.alarm_changes[1].either.urgency == "confirm"


def test_the_factor_of_gross_failures_is_tried_too(room: Room) -> None:
    found = tried(*edited(room, "\n[due]\ngross_factor = 1.1\n"), score(0, 3.5), day=1)
    [change] = found.alarm_changes
    assert [told and told.urgency for told in change] == ["confirm", "urgent"]


def test_a_doubtful_stock_is_urgent_under_both(room: Room) -> None:
    found = tried(*edited(room, "\n[due]\nconfirm_first = false\n"), score(0, 3.5, stock_doubtful=True), day=1)
    assert found.alarm_changes == []


def test_a_shorter_age_moves_alarms_and_due_dates(room: Room) -> None:
    found = tried(*edited(room, "\n[due]\nmax_age_days = 3.0\n"), score(0, seq=1), score(8, seq=2), day=10)
    [change] = found.alarm_changes
    assert [told and told.alarm.at for told in change] == [NOON + days(7), NOON + days(3)]
    assert {name: [each.due_at for each in both] for name, both in found.due_changes.items()} == {
        SATIN: [NOON + days(15), NOON + days(11)]
    }
    assert found.due_at_once == []


def test_what_turns_due_at_once_is_told_by_the_verdicts_on_record(room: Room) -> None:
    found = tried(*edited(room, "\n[due]\nlimits_changed = true\n" + TIGHT), score(8, 1.0), day=9)
    assert found.due_at_once == [SATIN]
    assert [each.state for each in found.due[SATIN]] == [State.CURRENT, State.CURRENT]


def test_events_are_gone_through_by_each_sides_rules(room: Room) -> None:
    service = Event(EventKind.SERVICE, NOON + days(1), "north")
    elsewhere = Event(EventKind.SERVICE, NOON + days(1), "south")
    found = tried(*edited(room, "\n[due]\nafter = []\n"), score(0), events=[service, elsewhere], day=2)
    [change] = found.alarm_changes
    assert change.edited is None
    assert change.either.alarm.at == NOON + days(1)


def test_since_bounds_what_is_told_and_not_what_is_known(room: Room) -> None:
    checks = [score(0, 1.8, 1), score(1, 1.8, 2), score(2, 1.0, 3)]
    found = tried(*edited(room, TIGHT), *checks, since=NOON + days(1.5), day=3)
    assert [each.score.seq for each in found.verdict_changes] == [3]
    assert [change.either.alarm.kind.value for change in found.alarm_changes] == ["recovered"]
    assert found.conditions[SATIN] == [NOON + days(2)]


def test_verdicts_that_other_limits_gave_then_are_counted(room: Room) -> None:
    found = tried(room.snapshot(), room.snapshot(), score(0, 1.0, verdict=Verdict.WARN))
    assert found.recorded_otherwise == 1
    assert found.verdict_changes == []


def test_a_condition_of_one_side_is_told_with_its_checks_and_left_out(room: Room) -> None:
    gone = room.configure(('[conditions."north/satin-240"]\ntargets = ["house"]\n', ""))
    found = tried(room.configure(), gone, score(0, 9.0, 1), score(0, 1.0, 2, "north/matte-190"))
    assert found.one_sided == [OneSided(SATIN, None, "running", 1)]
    assert [each.score.seq for each in found.checks] == [2]
    assert SATIN not in found.conditions


def test_a_condition_that_neither_has_is_told(room: Room) -> None:
    found = tried(room.snapshot(), room.snapshot(), score(condition="east/silk"))
    assert found.one_sided == [OneSided("east/silk", None, None, 1)]


STRIP = '\n[targets.strip]\nfile = "targets/strip.txt"\ncolour_path = "ink-space"\n'
TWO = (
    '[conditions."north/satin-240"]\ntargets = ["house"]',
    '[conditions."north/satin-240"]\ntargets = ["house", "strip"]',
)


def test_checks_against_a_target_of_one_side_stay_as_they_were_recorded(room: Room) -> None:
    running, other = room.configure(extra=STRIP), room.configure(TWO, extra=STRIP + TIGHT)
    found = tried(running, other, score(0, 3.5, 1), score(1, 1.8, 2, target="strip"), day=2)
    assert found.one_sided == [OneSided(SATIN, "strip", "edited", 1)]
    assert [each.score.seq for each in found.checks] == [1]
    last = found.due[SATIN].edited.last
    assert last is not None
    assert last.verdict is Verdict.PASS


def test_a_target_that_both_still_define_is_judged_though_neither_uses_it(room: Room) -> None:
    running = room.configure(extra=STRIP)
    found = tried(running, room.configure(extra=STRIP + TIGHT), score(0, 1.8, target="strip"))
    assert found.one_sided == []
    assert len(found.verdict_changes) == 1


def test_verdicts_of_what_one_side_cannot_measure_are_not_compared(room: Room) -> None:
    running, other = edited(room, '\n[conditions."south/matte-190"]\ntargets = ["house"]\n')
    other = room.configure(
        ('[conditions."north/satin-240"]\n', '[conditions."north/satin-240"]\nnot_measurable = "foil"\n'), extra=TIGHT
    )
    found = tried(running, other, score(0, 3.5), day=1)
    assert found.checks == []
    assert [change.edited for change in found.alarm_changes] == [None]
    assert found.due_changes[SATIN].edited.state is State.NOT_MEASURABLE


def test_what_cannot_be_gone_through_again_is_named(room: Room) -> None:
    changes = (
        "\n[measurements]\nleast_patches = 9\n"
        '[[routes]]\nby = "name"\npattern = "(?P<printer>[^_]+)_(?P<substrate>[^_]+)"\n'
    )
    running = room.snapshot()
    other = room.configure(('colour_path = "ink-space"', 'colour_path = "ink-space"\ntable = 2'), extra=changes)
    notes = " / ".join(tried(running, other).not_replayed)
    assert all(word in notes for word in ("least_patches", "routes", "target house has another table"))
    assert "least_share" not in notes


EDITS = (
    "",
    "\n[due]\nmax_age_days = 1.0\nwarned_times = 2\n",
    "\n[due]\nlimits_changed = true\nsquare_metres = 10.0\n" + TIGHT,
    "\n[limits.house]\nall.uniformity = { warn = 1.0, act = 2.0 }\n"
    "all.de00_mean = { warn = 1.0, act = 3.0, recover = 1.5 }\n",
)


@pytest.fixture(scope="module")
def loaded_twice(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Snapshot, Snapshot]]:
    """The same settings, read twice, of each edit."""
    room = Room(tmp_path_factory.mktemp("twice") / "room")
    return [(room.configure(extra=extra), room.configure(extra=extra)) for extra in EDITS]


CONDITIONS = st.sampled_from([SATIN, "north/matte-190", "south/film-clear", "east/silk"])
CHECKS = st.lists(
    st.tuples(st.floats(0, 30), st.floats(0, 8), CONDITIONS, st.sampled_from(["house", "old"])), max_size=12
)
EVENTS = st.lists(
    st.tuples(st.floats(0, 30), st.sampled_from(sorted(set(EventKind) - {EventKind.PRINTED_AREA, *ANSWERED_FOR}))),
    max_size=6,
)


@settings(max_examples=amount(25, long=100), deadline=None)
@given(edit=st.sampled_from(range(len(EDITS))), checks=CHECKS, events=EVENTS)
def test_the_same_settings_on_both_sides_change_nothing(
    loaded_twice: list[tuple[Snapshot, Snapshot]],
    edit: int,
    checks: list[tuple[float, float, str, str]],
    events: list[tuple[float, EventKind]],
) -> None:
    scores = [score(day, mean, seq, name, target=aim) for seq, (day, mean, name, aim) in enumerate(checks, 1)]
    happened = [Event(kind, NOON + days(day), "north", seq=100 + n) for n, (day, kind) in enumerate(events)]
    found = tried(*loaded_twice[edit], *scores, events=happened, day=31)
    assert (found.verdict_changes, found.alarm_changes, found.due_changes) == ([], [], {})
    assert found.due_at_once == []
    assert found.unknown_counts == {}
    assert found.verdict_counts.running == found.verdict_counts.edited
    assert found.alarm_counts.running == found.alarm_counts.edited
    assert all(each.has is None for each in found.one_sided)
