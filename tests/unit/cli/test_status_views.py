"""What `status` prints, from states alone."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from sentinel.cli.status import status_json, status_table
from sentinel.core.cases.standing import standing
from sentinel.core.conditions.state import StateReport
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Reason, Verdict
from tests.unit.core.builders import NOON, days, derived, past

CLEAR = (Reason(Code.TRANSPARENT, msg("the substrate is transparent")),)
REPORTS: dict[str, StateReport] = {
    "north/clear-film": derived(obstacles=CLEAR),
    "north/matte-180": derived(past(Verdict.WARN, NOON - days(1))),
    "north/satin-240": derived(),
    "south/matte-180/fine": derived(past(Verdict.PASS, NOON - days(9))),
    "south/satin-240": derived(past(Verdict.FAIL, NOON - timedelta(hours=1))),
}


STANDINGS = {name: standing({}, report, NOON) for name, report in REPORTS.items()}


def test_json_holds_every_condition_with_the_keys_of_the_contract() -> None:
    shown = status_json(REPORTS, STANDINGS, NOON)
    assert list(shown) == ["schema", "generated_at", "conditions"]
    assert (shown["schema"], shown["generated_at"]) == ("sentinel.status/1", "2026-03-02T12:00:00+00:00")
    assert [each["condition"] for each in shown["conditions"]] == list(REPORTS)
    assert shown["conditions"][3] == {
        "condition": "south/matte-180/fine",
        "printer": "south",
        "substrate": "matte-180",
        "state": "due",
        "reasons": [
            {
                "code": "too-old",
                "message": "the last check is of 2026-02-21, a colour check is due after 7 days",
                "pattern": "the last check is of {day}, a colour check is due after {span}",
                "values": {"day": {"day": "2026-02-21"}, "span": {"quantity": 7.0, "unit": "day"}},
            }
        ],
        "last_check": {"measured_at": "2026-02-21T12:00:00+00:00", "verdict": "pass"},
        "due_because": None,
        "due_at": "2026-02-28T12:00:00+00:00",
        "standing": {
            "production": "go",
            "next_step": "check",
            "turn": "operator",
            "case": None,
            "since": None,
            "seen_by": None,
        },
    }


def test_json_has_null_where_there_is_no_check_and_no_date() -> None:
    for each in status_json(REPORTS, STANDINGS, NOON)["conditions"][:3:2]:
        assert (each["last_check"], each["due_at"]) == (None, None)


WIDE = 200


def test_in_the_table_those_that_need_somebody_come_first() -> None:
    lines = status_table(REPORTS, STANDINGS, ZoneInfo("UTC"), WIDE).splitlines()[2:]
    assert [line.split()[0] for line in lines] == [
        "south/satin-240",
        "south/matte-180/fine",
        "north/satin-240",
        "north/matte-180",
        "north/clear-film",
    ]


def row_of(table: str, name: str) -> list[str]:
    return next(line for line in table.splitlines() if line.startswith(name)).split()


def test_the_table_shows_the_last_verdict_with_its_day_and_a_dash_for_none() -> None:
    table = status_table(REPORTS, STANDINGS, ZoneInfo("UTC"), WIDE)
    assert row_of(table, "south/satin-240")[1:5] == ["due", "go-not-matching", "fail", "2026-03-02"]
    assert row_of(table, "north/clear-film")[1:4] == ["not-measurable", "not-known", "-"]


def test_the_table_shows_days_of_the_site() -> None:
    """12:00 UTC is past midnight of the next day on Kiritimati, UTC+14."""
    table = status_table(REPORTS, STANDINGS, ZoneInfo("Pacific/Kiritimati"), WIDE)
    assert row_of(table, "south/satin-240")[4] == "2026-03-03"


@pytest.mark.parametrize("width", [100, 140, 200])
def test_the_table_keeps_to_the_width_of_the_terminal(width: int) -> None:
    table = status_table(REPORTS, STANDINGS, ZoneInfo("UTC"), width)
    assert max(map(len, table.splitlines())) <= width
    words = " ".join(table.split())
    for report in REPORTS.values():
        for reason in report.reasons:
            assert all(word in words for word in str(reason.message).split())


def test_a_room_without_conditions_has_an_empty_table() -> None:
    assert status_json({}, {}, NOON)["conditions"] == []
    assert status_table({}, {}, ZoneInfo("UTC"), WIDE).split()[:2] == ["printing", "condition"]
