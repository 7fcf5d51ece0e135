"""What `sentinel health` says of the times at which the parts of the service last did their work."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from sentinel.application.service_health import Health, parts_health, ran_once_at
from sentinel.cli.health import health_json, health_text
from sentinel.core.cases.kinds import ONCE
from sentinel.core.cases.records import UrlLosses

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
AGO = timedelta(hours=1)


@dataclass(frozen=True)
class Shape:
    """A store that is there."""

    path: Path = Path("/store.sqlite")
    sqlite: str = "3.45.1"
    journal_mode: str = "wal"
    schema_version: str = "0005"


def seen(**when: datetime) -> Health:
    moments = {ONCE if name == "once" else name: at for name, at in when.items()}
    return Health(
        at=NOW,
        parts=parts_health(moments, [], 30.0, NOW),
        ran_once_at=ran_once_at(moments),
        trouble=[],
        open_cases=0,
        notices={"waiting": 0},
        settings_differ=False,
        store=Shape(),
    )


def text(found: Health) -> list[str]:
    return health_text(found, ZoneInfo("Europe/Lisbon")).splitlines()


def test_a_service_that_works_is_well_and_no_single_run_is_spoken_of() -> None:
    found = seen(intake=NOW, clock=NOW)
    shown = health_json(found)
    assert (shown["healthy"], shown["ran_once_at"]) == (True, None)
    assert text(found)[:3] == ["well", "intake: 2026-03-02 12:00:00", "clock: 2026-03-02 12:00:00"]


def test_a_single_run_an_hour_ago_is_late_and_said_to_be_the_last_work() -> None:
    found = seen(intake=NOW - AGO, clock=NOW - AGO, once=NOW - AGO)
    shown = health_json(found)
    assert (shown["healthy"], shown["ran_once_at"]) == (False, "2026-03-02T11:00:00+00:00")
    assert text(found)[:4] == [
        "NOT WELL",
        "intake: 2026-03-02 11:00:00, late",
        "clock: 2026-03-02 11:00:00, late",
        "service: none has worked since `sentinel run --once` ended, 2026-03-02 11:00:00",
    ]


def test_a_single_run_before_the_service_is_not_spoken_of() -> None:
    found = seen(intake=NOW, clock=NOW, once=NOW - AGO)
    assert health_json(found)["ran_once_at"] is None
    assert not any("--once" in line for line in text(found))


def test_a_store_that_no_service_worked_with_says_never() -> None:
    assert text(seen())[:3] == ["NOT WELL", "intake: never, late", "clock: never, late"]


def test_what_did_not_come_to_a_recipient_is_told_with_how_late_others_came() -> None:
    lost = UrlLosses("colour-team", 0, 3, NOW - AGO, NOW, 2, timedelta(hours=5.5))
    found = replace(seen(intake=NOW, clock=NOW), losses=[lost])
    assert health_json(found)["undelivered"] == [
        {
            "recipient": "colour-team",
            "url": 1,
            "given_up": 3,
            "first_at": "2026-03-02T11:00:00+00:00",
            "last_at": "2026-03-02T12:00:00+00:00",
            "late": 2,
            "latest_seconds": 19800,
        }
    ]
    assert (
        "undelivered: colour-team, URL 1: 3 given up, posted 2026-03-02 11:00:00 to 2026-03-02 12:00:00; "
        "2 came late this week, up to 5.5 h"
    ) in text(found)
