"""What `rejudge` says of an edited risk against services that really worked by it for eight weeks."""

from __future__ import annotations

import json
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sentinel.adapters.files.stamps import TargetHashes
from sentinel.application.rejudging import rejudged
from sentinel.application.ways import Calling
from sentinel.bootstrap import Composition
from sentinel.cli.app import main
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.history import Both, Rejudged
from tests.support import cgats
from tests.support.clock import NOON, FakeClock
from tests.support.room import Room, Staff, recorded_history
from tests.support.worn_house import kept_past

DAYS = 56
CONDITIONS = ("north/satin-240", "north/matte-190")
RULES = """
[due]
by = "risk"
risk = "RISK"
max_age_days = 30
warned_share = 1.0
forecast = false
drift = false
"""


def by(risk: str) -> str:
    return RULES.replace("RISK", risk)


class Worked:
    """A service under a level of risk, in a room whose printer wears: every other check of a day comes a week later."""

    def __init__(self, folder: Path, risk: str) -> None:
        self.room = Room(folder)
        self.room.configure(extra=by(risk))
        clock = FakeClock()
        staff = Staff(self.room, clock)
        self.told: Counter[str] = Counter()
        for day in range(DAYS):
            read = [name for place, name in enumerate(CONDITIONS) if day % 9 == 4 * place and day < 32]
            for name in read:
                staff.take(f"{name}/{day}.txt", cgats.text(-0.12 * day))
            while staff.forecaster.refresh(staff.house):
                pass
            for _ in range(12):
                staff.schedule.tick(staff.house)
                waiting = [each.notice for each in staff.outbox() if each.notice.facts.get("step") != "reminded"]
                self.told.update(each.kind.value for each in waiting if each.kind is not NoticeKind.NEVER_RUN)
                clock.advance(2 * 3600)
        staff.store.close()


@pytest.fixture(scope="module")
def careful(tmp_path_factory: pytest.TempPathFactory) -> Worked:
    return Worked(tmp_path_factory.mktemp("careful") / "room", "careful")


@pytest.fixture(scope="module")
def lean(tmp_path_factory: pytest.TempPathFactory) -> Worked:
    return Worked(tmp_path_factory.mktemp("lean") / "room", "lean")


@pytest.fixture(scope="module")
def found(careful: Worked, lean: Worked) -> Rejudged:
    """The history of the careful room, rejudged by lean, at the end of the eight weeks."""
    snapshots, now = Both(careful.room.snapshot(), lean.room.snapshot()), NOON + timedelta(days=DAYS)
    rooms = Both(*(Composition(each.loaded.path, snapshot=each) for each in snapshots))
    records = rooms.running.records
    callings = Both(
        *(Calling(each.house, records, room.foretold, NOON, now) for each, room in zip(snapshots, rooms, strict=True))
    )
    houses = Both(*(each.house for each in snapshots))
    return rejudged(houses, recorded_history(snapshots), TargetHashes(), None, now, callings)


def test_alarms_are_those_of_which_the_services_told(found: Rejudged, careful: Worked, lean: Worked) -> None:
    for counts, worked in zip(found.alarm_counts, (careful, lean), strict=True):
        assert {kind.value: count for kind, count in counts.items()} == worked.told
    assert careful.told["check-due"] > lean.told["check-due"] > 0


def test_it_shows_the_charts_and_unknown_days_that_either_comes_to(found: Rejudged) -> None:
    both = found.called["north"]
    running, edited = (each.ways[0] for each in both)
    assert running.charts is not None
    assert edited.charts is not None
    assert running.unknown is not None
    assert edited.unknown is not None
    assert running.charts.value >= edited.charts.value
    assert running.unknown.value < edited.unknown.value
    assert any(each.startswith("alarms by risk before") for each in found.not_replayed)


def test_the_command_shows_what_an_edited_risk_or_limit_would_have_brought(
    room: Room, capsys: pytest.CaptureFixture[str]
) -> None:
    room.configure(extra=by("lean"))
    kept_past(room, datetime.now(UTC), weeks=20, wears=0.09)
    trial = room.folder / "trial.toml"
    tighter = "\n[limits.house]\nsolids.de00_max = { warn = 2.0, act = 3.5 }\n"
    unknown: list[list[float]] = []
    charts: list[list[float]] = []
    for text in (room.config.read_text().replace("lean", "careful"), room.config.read_text() + tighter):
        trial.write_text(text)
        assert main(["--config", str(room.config), "rejudge", "--new", str(trial), "--json"]) == 0
        shown = json.loads(capsys.readouterr().out)
        north = next(each for each in shown["called"] if each["printer"] == "north")
        assert north["running"]["lacking"] is None
        for found, figure in ((unknown, "unknown_days"), (charts, "charts")):
            found.append([north[side]["ways"][0][figure]["value"] for side in ("running", "edited")])
    (lean, careful), (again, _) = unknown
    assert careful < lean == pytest.approx(again, rel=1e-4)
    (lean, careful), (loose, tight) = charts
    assert careful > 1.15 * lean  # this printer's steady wear is known well, so that levels of risk lie close together
    assert tight > 1.2 * loose  # by risk a tighter limit brings more charts, not more days out
    assert main(["--config", str(room.config), "rejudge", "--new", str(trial)]) == 0
    page = capsys.readouterr().out
    assert "What calling for checks would come to" in page
    assert max(map(len, page.splitlines())) <= 100


def test_what_cannot_differ_is_not_worked_out(room: Room, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--config", str(room.config), "rejudge", "--new", str(room.config), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["called"] == []
