"""One recorded check under two rulings: verdicts, what decides, what is not known; and alarms that differ."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.conditions.checks import PastScore
from sentinel.core.history import (
    AlarmChange,
    Both,
    CheckAlarm,
    JudgedCheck,
    Ruling,
    ToldAlarm,
    alarm_changes,
    judged_again,
    judged_under_both,
)
from sentinel.core.scoring.metrics import Metrics
from sentinel.core.scoring.policy import Limit, Limits, ScoringOptions
from sentinel.core.verdict import Code, Verdict
from tests.unit.core.builders import CMYK, NOON, days

PLAIN = ScoringOptions()


def score(metrics: Metrics) -> PastScore:
    return PastScore(1, "north/satin-240", NOON, Verdict.PASS, True, "house", "d" * 64, metrics, PLAIN, CMYK)


def under(metrics: Metrics, running: Limits, edited: Limits, reckoning: ScoringOptions = PLAIN) -> JudgedCheck:
    """Judged by both; the edited settings make their figures by `reckoning`."""
    return judged_under_both(score(metrics), Both(Ruling(running, PLAIN), Ruling(edited, reckoning)))


def verdicts(each: JudgedCheck) -> list[str]:
    return [side.verdict.value for side in each.judged]


def test_a_tighter_limit_changes_the_verdict_and_is_named_with_both_limits() -> None:
    each = under({"all": {"de00_mean": 2.5}}, {"all": {"de00_mean": Limit(2, 3)}}, {"all": {"de00_mean": Limit(1, 2)}})
    assert verdicts(each) == ["warn", "fail"]
    assert each.decider is not None
    assert (each.decider.group, each.decider.metric, each.decider.value) == ("all", "de00_mean", 2.5)
    assert (each.decider.level, each.decider.limit) == ("act", Both(3, 2))


def test_a_wider_limit_is_decided_by_the_figure_that_was_beyond_the_narrow_one() -> None:
    metrics = {"all": {"de00_mean": 2.5}, "paper": {"de00_mean": 1.4}}
    narrow = {"all": {"de00_mean": Limit(2, 4)}, "paper": {"de00_mean": Limit(1.3, 4)}}
    each = under(metrics, narrow, {"all": {"de00_mean": Limit(3, 4)}})
    assert verdicts(each) == ["warn", "pass"]
    assert each.decider is not None
    assert (each.decider.group, each.decider.level, each.decider.limit) == ("all", "warn", Both(2, 3))


def test_a_limit_that_one_side_lacks_is_told_as_none() -> None:
    each = under({"paper": {"db_mean": -1.5}}, {}, {"paper": {"db_mean": Limit(0.5, 1)}})
    assert verdicts(each) == ["pass", "fail"]
    assert each.decider is not None
    assert (each.decider.value, each.decider.limit) == (-1.5, Both(None, 1))


def test_a_figure_that_is_not_on_record_is_unknown_and_not_zero() -> None:
    each = under({"all": {"de00_mean": 1.0}}, {}, {"all": {"uniformity": Limit(1, 2)}})
    assert verdicts(each) == ["pass", "pass"]
    assert each.open_figures == {("all", "uniformity")}
    assert [each.is_certain(side) for side in each.judged] == [True, False]


def test_a_failure_is_certain_whatever_is_unknown() -> None:
    limits = {"all": {"uniformity": Limit(1, 2), "de00_mean": Limit(1, 2)}}
    each = under({"all": {"de00_mean": 5.0}}, {}, limits)
    assert each.is_certain(each.judged.edited)


def test_what_neither_side_knows_under_the_same_limit_makes_no_difference() -> None:
    limits = {"greys": {"de00_mean": Limit(1, 2)}}
    each = under({"all": {"de00_mean": 1.0}}, limits, limits)
    assert each.open_figures == frozenset()
    assert all(each.is_certain(side) for side in each.judged)


def test_a_figure_made_in_another_way_is_unknown_to_the_side_that_would_make_it_otherwise() -> None:
    limits = {"all": {"de00_share": Limit(0.1, 0.2)}}
    each = under({"all": {"de00_share": 0.5}}, limits, limits, replace(PLAIN, share_beyond=2.0))
    assert verdicts(each) == ["fail", "pass"]
    assert [each.is_certain(side) for side in each.judged] == [True, False]


def test_recovery_is_judged_again_too() -> None:
    ruling = Ruling({"all": {"de00_mean": Limit(2, 3, 1.5)}}, PLAIN)
    found = [judged_again(score({"all": {"de00_mean": value}}), ruling).recovered for value in (1.5, 1.6, 3.5)]
    assert found == [True, False, False]


FIGURES = st.dictionaries(
    st.sampled_from(["all", "paper", "greys"]),
    st.dictionaries(st.sampled_from(["de00_mean", "de00_max", "dl_mean"]), st.floats(-20, 20), min_size=1),
)
LIMITS = st.dictionaries(
    st.sampled_from(["all", "paper", "greys"]),
    st.dictionaries(
        st.sampled_from(["de00_mean", "de00_max", "dl_mean"]),
        st.tuples(st.floats(0.1, 5), st.floats(0.1, 5)).map(lambda pair: Limit(pair[0], pair[0] + pair[1])),
    ),
)


@given(FIGURES, LIMITS)
def test_the_same_ruling_on_both_sides_changes_nothing(metrics: Metrics, limits: Limits) -> None:
    each = under(metrics, limits, limits)
    assert not each.is_changed
    assert (each.decider, each.open_figures) == (None, frozenset())


@given(FIGURES, LIMITS, LIMITS)
def test_whatever_decides_lies_beyond_the_limit_of_the_severer_side_alone(
    metrics: Metrics, running: Limits, edited: Limits
) -> None:
    each = under(metrics, running, edited)
    if each.decider is not None:
        value, limits = abs(each.decider.value), each.decider.limit
        severer = max(range(2), key=lambda side: ["pass", "warn", "fail"].index(verdicts(each)[side]))
        beyond, other = limits[severer], limits[1 - severer]
        assert beyond is not None
        assert value > beyond
        assert other is None or value <= other


def alarm(day: float, check: int = 1, kind: NoticeKind = NoticeKind.CHECK_DUE, urgency: str | None = None) -> ToldAlarm:
    return ToldAlarm("north/satin-240", CheckAlarm(kind, NOON + days(day), check, 1, (Code.TOO_OLD,)), urgency)


def test_alarms_of_both_sides_are_no_change() -> None:
    assert alarm_changes([alarm(1), alarm(2, check=2)], [alarm(1), alarm(2, check=2)]) == []


def test_alarms_of_one_side_and_moved_ones_are_told_the_latest_first() -> None:
    came, moved, comes = alarm(1, check=1), alarm(7, check=2), alarm(9, check=3)
    earlier = alarm(5, check=2)
    assert alarm_changes([came, moved], [earlier, comes]) == [
        AlarmChange(None, comes),
        AlarmChange(moved, earlier),
        AlarmChange(came, None),
    ]


def test_another_urgency_is_a_change() -> None:
    failed = NoticeKind.CHECK_FAILED
    first, urgent = alarm(1, kind=failed, urgency="confirm"), alarm(1, kind=failed, urgency="urgent")
    assert alarm_changes([first], [urgent]) == [AlarmChange(first, urgent)]
