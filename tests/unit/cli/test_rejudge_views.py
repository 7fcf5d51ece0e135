"""What `rejudge` prints: counts before details, at most 100 columns, the limits of history said plainly."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from sentinel.cli.rejudge import MOST, WIDTH, rejudged_json, rejudged_text
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.conditions.checks import PastScore
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.history import (
    AlarmChange,
    Both,
    CheckAlarm,
    JudgedCheck,
    OneSided,
    Rejudged,
    Ruling,
    ToldAlarm,
    judged_under_both,
)
from sentinel.core.message import msg
from sentinel.core.scoring.policy import Limit, Limits, ScoringOptions
from sentinel.core.verdict import Code, Reason, Verdict
from tests.unit.core.builders import CMYK, NOON, days

FILES = Both("/etc/sentinel/sentinel.toml", "/home/ana/trial.toml")
LONG = "north-by-the-window/satin-with-a-long-name-240/finest"
OLD: Limits = {"all": {"de00_mean": Limit(2, 3)}}
NEW: Limits = {"all": {"de00_mean": Limit(1, 1.5), "spread_max": Limit(1, 2)}}


def checked(number: int, mean: float = 2.5, condition: str = LONG) -> JudgedCheck:
    plain = ScoringOptions()
    at = NOON + days(number)
    score = PastScore(
        number, condition, at, Verdict.WARN, True, "house", "d", {"all": {"de00_mean": mean}}, plain, CMYK
    )
    return judged_under_both(score, Both(Ruling(OLD, plain), Ruling(NEW, plain)))


def alarm(day: float, urgency: str | None = None, condition: str = LONG) -> ToldAlarm:
    kind = NoticeKind.CHECK_FAILED if urgency else NoticeKind.CHECK_DUE
    return ToldAlarm(
        condition, CheckAlarm(kind, NOON + days(day), 4, 1, (Code.TOO_OLD, Code.CLIMATE_OUT_OF_RANGE)), urgency
    )


def state(kind: State, due_at: datetime | None) -> StateReport:
    return StateReport(kind, (Reason(Code.TOO_OLD, msg("the last check is old")),), None, due_at)


NOTHING = Rejudged(
    since=None,
    conditions={LONG: [NOON, NOON + days(40)], "south/film-clear": []},
    checks=[],
    alarm_counts=Both(Counter(), Counter()),
    alarm_changes=[],
    due={},
    due_at_once=[],
    one_sided=[],
    not_replayed=[],
)
FULL = replace(
    NOTHING,
    checks=[checked(1), checked(2, 1.2), checked(3, 0.4)],
    alarm_counts=Both(Counter({NoticeKind.CHECK_DUE: 3}), Counter({NoticeKind.CHECK_FAILED: 2})),
    alarm_changes=[AlarmChange(alarm(7), alarm(5)), AlarmChange(None, alarm(3, "urgent")), AlarmChange(alarm(1), None)],
    due={
        LONG: Both(state(State.CURRENT, NOON + days(9)), state(State.DUE, NOON + days(2))),
        "south/film-clear": Both(state(State.NEVER_RUN, None), state(State.NEVER_RUN, None)),
    },
    due_at_once=[LONG],
    one_sided=[OneSided("west/silk", None, "edited", 0), OneSided(LONG, "strip", None, 12)],
    not_replayed=["alarms after a change of target"],
)


def text(found: Rejudged) -> str:
    return rejudged_text(found, FILES, ZoneInfo("Europe/Lisbon"))


def plain(found: Rejudged) -> str:
    """The text with its lines joined."""
    return " ".join(text(found).split())


@pytest.mark.parametrize("found", [NOTHING, FULL, replace(FULL, checks=[checked(n) for n in range(70)])])
def test_no_line_is_wider_than_a_page(found: Rejudged) -> None:
    assert max(map(len, text(found).splitlines())) <= WIDTH


def test_the_history_comes_first_then_the_counts_then_the_details() -> None:
    order = ["This stands on 2 recorded checks", "verdict pass", "differ.", "What this cannot tell"]
    order += ["Verdicts that differ", "Alarms that differ", "States and due dates of today that differ"]
    places = [text(FULL).index(words) for words in order]
    assert places == sorted(places)


def test_the_history_says_how_much_there_is_since_when_and_what_is_not_known() -> None:
    shown = plain(NOTHING)
    assert "2 recorded checks, of 1 printing condition, measured from 2026-03-02 12:00 to 2026-04-11 13:00" in shown
    assert "(40 days)" in shown
    assert f"The fewest checks: {LONG} 2." in shown
    assert "Nothing is known of south/film-clear: no check." in shown


def test_without_any_check_nothing_can_be_tried() -> None:
    found = replace(NOTHING, conditions={LONG: []}, since=NOON)
    assert "No check is on record since 2026-03-02 12:00" in plain(found)


def test_counts_stand_side_by_side() -> None:
    lines = [line.split() for line in text(FULL).splitlines()]
    assert ["verdict", "pass", "2", "1"] in lines
    assert ["verdict", "fail", "0", "1"] in lines
    assert ["alarm", "check-due", "3", "0"] in lines
    assert "2 verdicts, 3 alarms and 1 state or due date of today differ." in text(FULL)


def test_a_verdict_that_could_be_worse_is_marked_and_the_unknown_figure_named() -> None:
    assert "pass -> warn?" in text(FULL)
    assert "warn -> fail " in text(FULL)
    assert "unknown in 3 checks: largest ΔE00 of repeated patches from their mean of all patches" in plain(FULL)


def test_what_decides_is_told_with_both_limits() -> None:
    found = replace(FULL, checks=[checked(1, condition="n/s")])
    row, more = text(found).partition("Verdicts that differ")[2].splitlines()[4:6]
    assert " ".join(row.split()) == "1 2026-03-03 12:00 n/s warn -> fail mean ΔE00 of all patches 2.50,"
    assert more.strip() == "action limit 3 -> 1.5"


def test_what_only_one_side_has_is_told() -> None:
    shown = plain(FULL)
    assert "only the edited settings have the printing condition west/silk: 0 checks left out" in shown
    assert f"neither of the settings has the target strip of {LONG}: 12 checks not judged again" in shown


def test_alarms_tell_both_times_and_the_urgency() -> None:
    rows = [line for line in text(FULL).splitlines() if "2026-03-0" in line]
    assert any("2026-03-09 12:00  2026-03-07 12:00" in row for row in rows)
    assert any("none              2026-03-05 12:00" in row for row in rows)
    assert any("2026-03-03 12:00  none" in row for row in rows)
    assert "urgent" in text(FULL)


def test_a_long_table_is_cut_and_says_so() -> None:
    found = replace(FULL, checks=[checked(n, condition="n/s") for n in range(MOST + 5)])
    assert f"Verdicts that differ (the first {MOST} of {MOST + 5}; all are in --json)" in text(found)


def test_json_holds_every_change_with_its_figures() -> None:
    shown = rejudged_json(FULL, FILES, NOON)
    assert (shown["schema"], shown["settings"]) == ("sentinel.rejudge/1", {"running": FILES[0], "edited": FILES[1]})
    assert shown["verdicts"]["edited"] == {"pass": 1, "warn": 1, "fail": 1}
    latest, first = shown["verdicts"]["changed"]
    assert (latest["check"], latest["edited"]) == (2, {"verdict": "warn", "certain": False})
    assert first["decided_by"] == {
        "group": "all",
        "metric": "de00_mean",
        "value": 2.5,
        "level": "act",
        "limit": {"running": 3.0, "edited": 1.5},
    }
    assert first["unknown"] == [{"group": "all", "metric": "spread_max"}]
    assert shown["unknown"] == [{"group": "all", "metric": "spread_max", "checks": 3}]


def test_json_holds_alarms_and_due_dates_of_both_sides() -> None:
    shown = rejudged_json(FULL, FILES, NOON)
    moved, comes, gone = shown["alarms"]["changed"]
    assert (moved["running"]["at"], moved["edited"]["at"]) == tuple((NOON + days(n)).isoformat() for n in (7, 5))
    assert (comes["running"], comes["edited"]["urgency"], comes["kind"]) == (None, "urgent", "check-failed")
    assert gone["edited"] is None
    assert [(each["condition"], each["edited"]["state"]) for each in shown["due"]["changed"]] == [(LONG, "due")]
    assert shown["due"]["at_once"] == [LONG]


def test_json_of_the_history_counts_by_condition() -> None:
    shown = rejudged_json(NOTHING, FILES, NOON)["history"]
    assert (shown["checks"], shown["judged_again"], shown["since"]) == (2, 0, None)
    conditions: Sequence[dict[str, object]] = shown["conditions"]
    assert [(each["condition"], each["checks"], each["first_measured_at"]) for each in conditions] == [
        (LONG, 2, NOON.isoformat()),
        ("south/film-clear", 0, None),
    ]
