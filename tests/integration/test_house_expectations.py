"""What was told with evidence changes what is expected of the checks to come, and can be worked out again later."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sentinel.adapters.store.store import Store
from sentinel.application import checking
from sentinel.application.causes import CauseWanted, causes_told, tell_cause
from sentinel.application.checking import Assessor, CheckSurroundings, learnt_here
from sentinel.bootstrap import Composition
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.conditions.events import Undoing
from sentinel.core.conditions.name import ConditionName
from tests.integration.test_withheld_verdicts import drawn, room_of
from tests.support import cgats
from tests.support.room import SITE, Staff
from tests.support.stores import EarlierRoom, names

SATIN = "north/satin-240"
UNSURE = 5.0
"""Of a shift of L* by so much the causes cannot be told apart: shade, scale and solids all stay."""


def sheet(staff: Staff, shift: float = UNSURE, place: str = SATIN) -> RecordedCheck:
    """Another check of the same sheet, an hour later."""
    staff.clock.advance(3600.0)
    text = cgats.text(shift, keywords={"FOR": f"{staff.clock.now()}"})
    staff.take(f"{place}/sheet.txt", text)
    return staff.room.checks()[-1]


def tell(staff: Staff, check: int, cause: str, seen_by: str = "nozzle-print") -> int:
    """Tells a cause, a minute later; returns the number of the event."""
    staff.clock.advance(60.0)
    room = Composition(staff.room.config, clock=staff.clock)
    return tell_cause(
        room.reading, room.writing, CauseWanted(check, cause, None, seen_by, "Ana"), staff.clock.now()
    ).told.event


def learnt(staff: Staff, until: datetime | None = None) -> dict[str, float]:
    told = causes_told(staff.room.records, until).values()
    return learnt_here(staff.house.conditions[ConditionName.parse(SATIN)].diagnosis, told)  # type: ignore[index]


def confidence(found: Sequence[Any], cause: str) -> float:
    return float(sum(each["confidence"] for each in found if each["cause"] == cause))


def test_a_cause_told_with_evidence_is_believed_more_beside_one_that_was_not(staff: Staff) -> None:
    before = sheet(staff)
    for _ in range(8):
        tell(staff, sheet(staff).seq, "solid-off-aim")
    after = sheet(staff)
    ratios = [
        confidence(each.diagnosis, "solid-off-aim") / confidence(each.diagnosis, "substrate-shade")
        for each in (before, after)
    ]
    factors = learnt(staff)
    assert factors["solid-off-aim"] > factors["substrate-shade"]
    assert ratios[1] > 2 * ratios[0]  # nearly as far as the factors: two faults at once are weighed too


def test_looks_and_opinions_change_nothing(staff: Staff) -> None:
    before = sheet(staff)
    for seen_by in ("look", "opinion") * 4:
        tell(staff, sheet(staff).seq, "solid-off-aim", seen_by)
    assert learnt(staff) == {}
    assert sheet(staff).diagnosis == before.diagnosis


def test_of_one_check_the_last_word_counts_once(staff: Staff) -> None:
    check = sheet(staff).seq
    for _ in range(3):
        tell(staff, check, "solid-off-aim")
    once = learnt(staff)
    tell(staff, check, "healthy")
    assert learnt(staff) == {}
    tell(staff, check, "solid-off-aim")
    assert learnt(staff) == once


def test_a_voided_check_teaches_nothing(staff: Staff) -> None:
    check = sheet(staff).seq
    tell(staff, check, "solid-off-aim")
    with staff.store.transaction() as session:
        session.checks.void(check, "Ana", "wrong sheet", staff.clock.now())
    assert learnt(staff) == {}


def assessed_again(staff: Staff, check: RecordedCheck, arrived: datetime) -> list[dict[str, Any]]:
    """Its diagnosis worked out from its file once more, as of the moment at which it came."""
    room = Composition(staff.room.config, clock=staff.clock)
    around = CheckSurroundings(staff.store, staff.house, arrived, arrived)
    data = room.archive.fetch(check.sha256)
    [found] = Assessor(staff.house, room.targets, around).file(data, check.condition, "sheet")
    return [each.as_record() for each in found.diagnosis]


def test_the_diagnosis_of_a_check_comes_out_again_whatever_was_told_or_taken_back_later(staff: Staff) -> None:
    told = []
    for cause in ("solid-off-aim", "possibly-not-dry", "solid-off-aim"):
        check = sheet(staff).seq
        told.append((check, tell(staff, check, cause)))
    subject, arrived = sheet(staff), staff.clock.now()
    then = learnt(staff)
    tell(staff, subject.seq, "substrate-shade", "label")
    with staff.store.transaction() as session:
        later = arrived + timedelta(hours=1)
        session.events.undo(told[0][1], Undoing("Ana", "a slip", later))
        session.checks.void(told[1][0], "Ana", "wrong sheet", later)
    assert learnt(staff) != then
    assert learnt(staff, until=arrived) == then
    assert assessed_again(staff, subject, arrived) == list(subject.diagnosis)


@pytest.mark.parametrize("common", ["tone-shift", "possibly-not-dry"])
def test_no_verdict_that_was_withheld_stands_because_of_what_was_told(tmp_path: Path, common: str) -> None:
    """A sheet of another stock, with a fault of another kind told of 12 checks."""
    healthy = drawn("healthy")
    staff = room_of(tmp_path, healthy)
    stock = next(iter(healthy.rivals.values()))

    def findings(tag: str) -> tuple[str, float]:
        staff.clock.advance(3600.0)
        staff.take(f"{SATIN}/stock.txt", stock.replace("\n", f"\n# {tag}\n", 1))
        check = staff.room.checks()[-1]
        return check.verdict.value, confidence(check.diagnosis, "wrong-substrate")

    before = findings("before")
    for number in range(12):
        staff.clock.advance(3600.0)
        staff.take(f"{SATIN}/sheet.txt", healthy.file.replace("\n", f"\n# {number}\n", 1))
        tell(staff, staff.room.checks()[-1].seq, common)
    after = findings("after")
    assert before[0] == after[0] == "unscored"
    assert after[1] > before[1] - 0.001  # not to the last digit: explanations by two faults share out otherwise
    staff.store.close()


def test_a_verdict_that_the_configured_weights_withhold_stays_withheld_whatever_was_learnt(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where the finding itself is no longer nearly certain, by factors that no telling could bring about."""
    healthy = drawn("healthy")
    found = {}
    for power in range(8, 18, 2):
        monkeypatch.setattr(checking, "learnt_here", lambda *_, power=power: {"wrong-substrate": 10.0**-power})
        staff = room_of(tmp_path / str(power), healthy)
        staff.take(f"{SATIN}/stock.txt", next(iter(healthy.rivals.values())))
        [check] = staff.room.checks()
        found[confidence(check.diagnosis, "wrong-substrate")] = check.verdict.value
        staff.store.close()
    unsure = {share: verdict for share, verdict in found.items() if 0.01 < share < 0.85}
    assert unsure
    assert set(unsure.values()) == {"unscored"}


def test_a_sheet_whose_verdict_was_withheld_teaches_too(tmp_path: Path) -> None:
    staff = room_of(tmp_path, misread := drawn("rows shifted"))
    staff.take(f"{SATIN}/shifted.txt", misread.file)
    [check] = staff.room.checks()
    tell(staff, check.seq, "patch-order", "second-reading")
    assert {number: told.cause for number, told in causes_told(staff.room.records).items()} == {
        check.seq: "patch-order"
    }
    assert learnt(staff)["patch-order"] > 1
    staff.store.close()


@pytest.mark.parametrize("name", [names()[0], names()[-1]])
def test_a_cause_is_told_of_a_check_of_an_earlier_store(name: str, tmp_path: Path) -> None:
    """Its events fit: there is no migration."""
    with closing(EarlierRoom(name, tmp_path / "room")) as earlier:
        Store(earlier.store, SITE).close()
        check = earlier.shows("checks", "--last", "1")[0]
        assert check["cause_told"] is None
        words = ("cause", str(check["check"]), "tone-shift", "--by", "Ana", "--seen-by", "recalibration")
        [told] = earlier.shows(*words)
        assert (told["condition"], told["independent"], told["before"]) == (check["condition"], True, None)
        [after] = earlier.shows("checks", "--last", "1")
        assert after["cause_told"]["event"] == told["event"]
