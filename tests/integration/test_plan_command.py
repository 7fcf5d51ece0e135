"""`plan` on a real store: a house with a past, worked through as it was recorded."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from sentinel.cli.app import main
from tests.support.room import Room
from tests.support.worn_house import kept_past

DAY = timedelta(days=1)
BY_AGE_ALONE = "[due]\nwarned_share = 1.0\nforecast = false\ndrift = false\n"
WAYS = ["as made", "age", "careful", "normal", "lean"]


@pytest.fixture
def now() -> datetime:
    return datetime.now(UTC)


def shown(room: Room, capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["--config", str(room.config), "plan", "--json", *words]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def text(room: Room, capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["--config", str(room.config), "plan", *words]) == 0
    return capsys.readouterr().out


def test_every_way_is_shown_with_what_it_costs_and_saves(
    room: Room, now: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    room.configure(extra=BY_AGE_ALONE)
    kept_past(room, now, weeks=16, every=3.5, wears=0.0)
    found = shown(room, capsys, "--printer", "north")
    [north] = found["printers"]
    assert found["schema"] == "sentinel.plan/1"
    assert [each["way"] for each in north["ways"]] == WAYS
    assert (north["conditions"], north["lacking"], north["in_force"]) == (2, None, ["age"])
    costs = {each["way"]: each for each in north["ways"]}
    assert costs["as made"]["charts"]["value"] == pytest.approx(4.0, abs=0.3)  # one in 32 still runs
    assert costs["age"]["charts"]["value"] == pytest.approx(2.0, abs=0.1)
    assert costs["age"]["hands_on_minutes"]["value"] == pytest.approx(2 * (10 + 10), abs=3)
    assert costs["normal"]["charts"]["value"] < 1.0
    for each in north["ways"]:
        for name in ("charts", "hands_on_minutes", "unknown_days"):
            assert 0 <= each[name]["low"] <= each[name]["value"] <= each[name]["high"]
    assert [each["name"] for each in north["by_condition"]] == ["north/matte-190", "north/satin-240"]
    assert found["together"] == north["ways"]


def test_it_tells_what_risk_would_have_had_and_how_what_was_said_held(
    room: Room, now: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    kept_past(room, now, weeks=20, wears=0.09)
    [north] = shown(room, capsys, "--printer", "north", "--weeks", "12")["printers"]
    costs = {each["way"]: each for each in north["ways"]}
    assert costs["careful"]["charts"]["value"] >= costs["lean"]["charts"]["value"]
    assert costs["careful"]["unknown_days"]["value"] <= costs["lean"]["unknown_days"]["value"]
    assert [each["level"] for each in north["shadow"]] == ["careful", "normal", "lean"]
    careful, _, lean = north["shadow"]
    assert len(lean["skipped"]) >= len(careful["skipped"])
    skipped = lean["skipped"][0]
    assert set(skipped) == {"check", "condition", "measured_at", "verdict", "stated", "called_at"}
    assert skipped["stated"] < 1 / 5
    assert sum(each["checks"] for each in north["stated"]) > 12
    expected = sum(each["checks"] * each["stated"] for each in north["stated"])
    out = sum(each["out"] for each in north["stated"])
    assert expected == pytest.approx(out, abs=3 * max(expected, 1) ** 0.5)


def test_the_sheet_names_ways_and_checks(room: Room, now: datetime, capsys: pytest.CaptureFixture[str]) -> None:
    kept_past(room, now, weeks=16)
    page = text(room, capsys, "--printer", "north", "--detail")
    for words in (
        "risk, careful (1 in 16)",
        "by age",
        "charts a week",
        "Against age:",
        "north/satin-240",
        "skipped by",
    ):
        assert words in page
    assert max(map(len, page.splitlines())) <= 120
    assert "north/satin-240" not in text(room, capsys, "--printer", "north").split("calls beyond age")[0]


def test_too_little_history_is_said_instead_of_figures(
    room: Room, now: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    kept_past(room, now, weeks=3)
    found = shown(room, capsys)
    assert all("too little history" in each["lacking"] for each in found["printers"])
    assert found["together"] == []
    assert "too little history: 6 readings of the printer in 3 weeks" in " ".join(text(room, capsys).split())


def test_a_house_without_checks_is_no_fault(room: Room, capsys: pytest.CaptureFixture[str]) -> None:
    assert "too little history: 0 readings" in text(room, capsys)
    assert not room.store.exists()


def test_since_bounds_what_counts_and_nothing_is_recorded(
    room: Room, now: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    kept_past(room, now, weeks=20)
    with closing(sqlite3.connect(room.store)) as connection:
        before = list(connection.iterdump())
    since = now - 100 * DAY
    found = shown(room, capsys, "--since", since.isoformat(), "--printer", "north")
    assert datetime.fromisoformat(found["since"]) == since
    whole = found["printers"][0]["ways"][0]["checks"]
    assert whole > shown(room, capsys, "--weeks", "5", "--printer", "north")["printers"][0]["ways"][0]["checks"]
    with closing(sqlite3.connect(room.store)) as connection:
        assert list(connection.iterdump()) == before


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--printer", "norht"], "expected a printer of the settings (north, south), got 'norht'"),
        (["--weeks", "0"], "expected --weeks from 1 to 520, got 0"),
        (["--since", "2999-01-01"], "expected --since before now"),
        (["--since", "soon"], "expected a time such as"),
    ],
)
def test_what_cannot_be_shown_is_said(
    room: Room, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    assert main(["--config", str(room.config), "plan", *words]) == 2
    assert told in capsys.readouterr().err
