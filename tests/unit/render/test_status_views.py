"""What `status` prints, from states alone."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

from sentinel.core.reasons import Code, Reason
from sentinel.core.state import StateReport, derive
from sentinel.core.verdict import Verdict
from sentinel.render.status import status_json, status_table
from tests.unit.core.builders import NOON, days, past

CLEAR = (Reason(Code.TRANSPARENT, "the substrate is transparent"),)
REPORTS: dict[str, StateReport] = {
    "north/clear-film": derive(CLEAR, [], days(7), NOON),
    "north/matte-180": derive((), [past(Verdict.WARN, NOON - days(1))], days(7), NOON),
    "north/satin-240": derive((), [], days(7), NOON),
    "south/matte-180/fine": derive((), [past(Verdict.PASS, NOON - days(9))], days(7), NOON),
    "south/satin-240": derive((), [past(Verdict.FAIL, NOON - timedelta(hours=1))], days(7), NOON),
}


def test_json_holds_every_condition_with_the_keys_of_the_contract() -> None:
    shown = status_json(REPORTS, NOON)
    assert list(shown) == ["schema", "generated_at", "conditions"]
    assert (shown["schema"], shown["generated_at"]) == ("sentinel.status/1", "2026-03-02T12:00:00+00:00")
    assert [each["condition"] for each in shown["conditions"]] == list(REPORTS)
    assert shown["conditions"][3] == {
        "condition": "south/matte-180/fine",
        "printer": "south",
        "substrate": "matte-180",
        "state": "due",
        "reasons": [{"code": "too-old", "message": "the last check is 9.0 days old, a check is due after 7.0 days"}],
        "last_check": {"measured_at": "2026-02-21T12:00:00+00:00", "verdict": "pass"},
        "due_at": "2026-02-28T12:00:00+00:00",
    }


def test_json_has_null_where_there_is_no_check_and_no_date() -> None:
    for each in status_json(REPORTS, NOON)["conditions"][:3:2]:
        assert (each["last_check"], each["due_at"]) == (None, None)


def test_in_the_table_those_that_need_somebody_come_first() -> None:
    table = status_table(REPORTS, ZoneInfo("UTC"))
    lines = [line for line in table.splitlines()[2:] if not line.startswith(" ")]  # not the rest of a long reason
    assert [line.split()[0] for line in lines] == [
        "south/satin-240",
        "south/matte-180/fine",
        "north/satin-240",
        "north/matte-180",
        "north/clear-film",
    ]


def test_the_table_shows_times_of_the_site_and_a_dash_for_none() -> None:
    table = status_table(REPORTS, ZoneInfo("Europe/Helsinki"))
    assert "2026-03-02 13:00" in next(line for line in table.splitlines() if line.startswith("south/satin-240"))
    assert "-" in next(line for line in table.splitlines() if line.startswith("north/clear-film")).split()


def test_a_room_without_conditions_has_an_empty_table() -> None:
    assert status_json({}, NOON)["conditions"] == []
    assert "printing condition" in status_table({}, ZoneInfo("UTC"))
