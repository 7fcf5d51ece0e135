"""State as a pure function of what a condition is, its checks, the policy and the time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone, tzinfo
from random import Random
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Reason, Verdict
from tests.unit.core.builders import NOON, codes, days, derived, past

WEEK = days(7)
INSTANT = timedelta(microseconds=1)
CLEAR = (Reason(Code.TRANSPARENT, msg("the substrate is transparent")),)
GLOSSY = (*CLEAR, Reason(Code.TEXTURED_GLOSS, msg("the substrate is a textured gloss")))
PASS, WARN, FAIL = Verdict.PASS, Verdict.WARN, Verdict.FAIL
Judged = tuple[Verdict, bool]
"""The verdict on a sheet, and whether it recovers a condition that fails."""


def state_of(*checks: PastCheck, now: datetime = NOON, max_age: timedelta = WEEK) -> StateReport:
    return derived(*checks, now=now, max_age=max_age)


@pytest.mark.parametrize(
    ("verdict", "age", "state", "reasons"),
    [
        (PASS, days(0), State.CURRENT, []),
        (PASS, days(6), State.CURRENT, []),
        (PASS, WEEK - INSTANT, State.CURRENT, []),
        (PASS, WEEK, State.DUE, ["too-old"]),
        (PASS, days(40), State.DUE, ["too-old"]),
        (WARN, days(1), State.CURRENT, ["last-check-warned"]),
        (WARN, WEEK, State.DUE, ["too-old", "last-check-warned"]),
        (FAIL, days(0), State.DUE, ["last-check-failed"]),
        (FAIL, WEEK - INSTANT, State.DUE, ["last-check-failed"]),
        (FAIL, WEEK, State.DUE, ["last-check-failed", "too-old"]),
    ],
)
def test_last_verdict_and_age_make_the_state_and_a_failed_check_is_told_first(
    verdict: Verdict, age: timedelta, state: State, reasons: list[str]
) -> None:
    report = state_of(past(verdict, NOON - age))
    assert (report.state, codes(report.reasons)) == (state, reasons)


def test_a_condition_without_a_check_was_never_run_and_turns_due_at_no_time() -> None:
    report = state_of()
    assert (report.state, codes(report.reasons)) == (State.NEVER_RUN, ["never-run"])
    assert (report.last, report.due_at) == (None, None)


@pytest.mark.parametrize("checks", [(), (past(FAIL),), (past(PASS, NOON - days(40)),)])
def test_a_condition_that_cannot_be_measured_is_neither_due_nor_never_run(checks: tuple[PastCheck, ...]) -> None:
    report = derived(*checks, obstacles=GLOSSY)
    assert report.state is State.NOT_MEASURABLE
    assert codes(report.reasons) == ["transparent", "textured-gloss"]
    assert report.last == (checks[0] if checks else None)
    assert report.due_at is None


@pytest.mark.parametrize("verdict", [PASS, WARN])
def test_a_check_within_limits_turns_due_at_the_end_of_its_age(verdict: Verdict) -> None:
    assert state_of(past(verdict, NOON - days(3))).due_at == NOON + days(4)


def test_a_failed_check_has_been_due_since_it_was_measured() -> None:
    measured = NOON - days(3)
    assert state_of(past(FAIL, measured)).due_at == measured


def test_due_at_stays_where_it_was_once_it_has_passed() -> None:
    check = past(PASS, NOON)
    due_at = state_of(check).due_at
    assert due_at is not None
    assert state_of(check, now=due_at + days(100)).due_at == due_at


def test_state_turns_at_the_very_instant_of_due_at() -> None:
    check = past(PASS, NOON)
    due_at = state_of(check).due_at
    assert due_at is not None
    assert state_of(check, now=due_at - INSTANT).state is State.CURRENT
    assert state_of(check, now=due_at).state is State.DUE


def test_a_check_measured_earlier_but_arriving_later_changes_nothing() -> None:
    newest, late = past(PASS, NOON - days(1), seq=1), past(FAIL, NOON - days(2), seq=2)
    report = state_of(newest, late)
    assert (report.state, report.last) == (State.CURRENT, newest)


def test_of_two_checks_of_the_same_moment_the_one_recorded_later_counts() -> None:
    report = state_of(past(FAIL, NOON, seq=4), past(PASS, NOON, seq=5))
    assert (report.state, report.last) == (State.CURRENT, past(PASS, NOON, seq=5))


def test_a_check_measured_in_the_future_by_a_fast_clock_is_current() -> None:
    assert state_of(past(PASS, NOON + timedelta(hours=3))).state is State.CURRENT


def test_an_age_under_a_day_is_told_in_hours() -> None:
    [reason] = state_of(past(PASS, NOON - timedelta(hours=9)), max_age=timedelta(hours=8)).reasons
    assert str(reason.message) == "the last check is of 2026-03-02, a colour check is due after 8 hours"


def test_an_age_of_days_is_told_in_days() -> None:
    [reason] = state_of(past(PASS, NOON - days(9.5))).reasons
    assert str(reason.message) == "the last check is of 2026-02-21, a colour check is due after 7 days"


LISBON = ZoneInfo("Europe/Lisbon")  # clocks go forward on 29 March 2026, back on 25 October (IANA tz database)
DAYLIGHT_SAVING_WEEKS = [datetime(2026, 3, 27, 12, tzinfo=LISBON), datetime(2026, 10, 23, 12, tzinfo=LISBON)]


@pytest.mark.parametrize("measured", DAYLIGHT_SAVING_WEEKS)
@pytest.mark.parametrize("now_zone", [UTC, LISBON, timezone(timedelta(hours=-8))])
def test_a_week_is_168_hours_also_when_the_clocks_change(measured: datetime, now_zone: tzinfo) -> None:
    turns = measured.astimezone(UTC) + timedelta(hours=168)
    before = state_of(past(PASS, measured), now=(turns - INSTANT).astimezone(now_zone))
    at = state_of(past(PASS, measured), now=turns.astimezone(now_zone))
    assert (before.state, codes(before.reasons)) == (State.CURRENT, [])
    assert (at.state, codes(at.reasons)) == (State.DUE, ["too-old"])
    assert at.due_at is not None
    assert at.due_at.astimezone(UTC) == turns


@pytest.mark.parametrize(
    ("measured", "age", "due"),
    [
        (datetime(2028, 2, 28, 9, tzinfo=UTC), days(1), datetime(2028, 2, 29, 9, tzinfo=UTC)),
        (datetime(2028, 2, 29, 9, tzinfo=UTC), days(1), datetime(2028, 3, 1, 9, tzinfo=UTC)),
        (datetime(2028, 2, 29, 9, tzinfo=UTC), days(365), datetime(2029, 2, 28, 9, tzinfo=UTC)),
        (datetime(2027, 2, 28, 9, tzinfo=UTC), days(1), datetime(2027, 3, 1, 9, tzinfo=UTC)),
    ],
)
def test_a_leap_day_is_a_day_like_any_other(measured: datetime, age: timedelta, due: datetime) -> None:
    assert state_of(past(PASS, measured), now=measured, max_age=age).due_at == due


def of(seq: int, at: datetime, judged: Judged) -> PastCheck:
    return PastCheck(seq, at, *judged)


CHECKS = st.lists(
    st.tuples(
        st.integers(-400, 40).map(lambda hours: NOON + timedelta(hours=hours)),
        st.sampled_from([(PASS, True), (PASS, False), (WARN, True), (WARN, False), (FAIL, False)]),
    ),
    max_size=8,
)
"""When they were measured, and how they were judged."""


@given(CHECKS, st.randoms(use_true_random=False))
def test_order_in_which_checks_are_read_does_not_matter(
    measured: list[tuple[datetime, Judged]], random: Random
) -> None:
    checks = [of(seq, at, judged) for seq, (at, judged) in enumerate(measured)]
    shuffled = random.sample(checks, len(checks))
    assert state_of(*shuffled) == state_of(*checks)


@given(CHECKS, st.randoms(use_true_random=False))
def test_order_in_which_checks_arrive_does_not_matter(measured: list[tuple[datetime, Judged]], random: Random) -> None:
    """Those of one moment apart: there the one recorded later counts."""
    measured = list(dict(measured).items())
    arrived = random.sample(measured, len(measured))
    reports = [
        state_of(*(of(seq, at, judged) for seq, (at, judged) in enumerate(each))) for each in (measured, arrived)
    ]
    told = [(each.state, each.reasons, each.due_at, each.last and each.last.measured_at) for each in reports]
    assert told[0] == told[1]


@given(CHECKS, st.integers(1, 30), st.integers(-100, 900))
def test_too_old_is_a_reason_exactly_when_the_age_is_reached(
    measured: list[tuple[datetime, Judged]], age: int, hours: int
) -> None:
    now = NOON + timedelta(hours=hours)
    checks = [of(seq, at, judged) for seq, (at, judged) in enumerate(measured)]
    report = state_of(*checks, now=now, max_age=days(age))
    old = bool(checks) and now >= max(check.measured_at for check in checks) + days(age)
    ahead = bool(checks) and max(check.measured_at for check in checks) > now + days(1)
    assert ("too-old" in codes(report.reasons)) == old
    assert ("dated-ahead" in codes(report.reasons)) == ahead
    if checks:
        failing = {"last-check-failed", "not-recovered"} & set(codes(report.reasons))
        assert (report.state is State.DUE) == (old or ahead or bool(failing))


@given(CHECKS)
def test_a_condition_fails_from_a_failed_check_until_one_that_recovers(measured: list[tuple[datetime, Judged]]) -> None:
    """Followed from the first check on, one by one."""
    checks = sorted((of(seq, at, judged) for seq, (at, judged) in enumerate(measured)), key=lambda check: check.order)
    failing = None
    for check in checks:
        failing = check if check.verdict is FAIL else None if check.recovered else failing
    report = state_of(*checks, now=NOON + days(2), max_age=days(40))
    told = {"last-check-failed", "not-recovered"} & set(codes(report.reasons))
    if failing is None:
        assert not told
    else:
        assert told == {"last-check-failed" if failing is checks[-1] else "not-recovered"}
        assert (report.state, report.due_at) == (State.DUE, failing.measured_at)
