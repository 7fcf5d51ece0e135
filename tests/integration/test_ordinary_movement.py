"""Pairs of sheets hours apart are kept with the later check, and what they teach changes what is expected later."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sentinel.application import ordinary_movement, recalibrating
from sentinel.application.causes import causes_told
from sentinel.application.checking import Assessor, CheckSurroundings
from sentinel.application.ordinary_movement import movement_known
from sentinel.application.recalibrating import Recalibrating
from sentinel.bootstrap import Composition
from sentinel.core.conditions.checks import KeptPair, RecordedCheck
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.name import ConditionName
from sentinel.core.diagnosis.sheet_pairs import SheetPair, learnt
from sentinel.core.inks.ordinary import AS_EVERYWHERE, Factor, OrdinaryMovement
from sentinel.core.recalibration.forecast import NoForecast
from sentinel.core.verdict import Verdict
from tests.integration.test_house_expectations import SATIN, tell
from tests.integration.test_withheld_verdicts import drawn, room_of
from tests.support import cgats
from tests.support.room import Staff

HOUR = 3600.0


def sheet(staff: Staff, shift: float = 0.2, hours: float = 1.0, patches: int = len(cgats.PATCHES)) -> RecordedCheck:
    """Another check some hours later."""
    staff.clock.advance(hours * HOUR)
    text = cgats.text(shift, keywords={"FOR": f"{staff.clock.now()}"}, patches=cgats.PATCHES[:patches])
    staff.take(f"{SATIN}/sheet.txt", text)
    return staff.room.checks()[-1]


def kept(staff: Staff) -> list[dict[str, Any] | None]:
    """What is kept of pairs with each check, in the order in which they came."""
    rows = staff.rows('SELECT sheet_pair FROM "check" ORDER BY seq')
    return [None if row[0] is None else json.loads(str(row[0])) for row in rows]


def pairs(staff: Staff, until: datetime | None = None) -> list[KeptPair]:
    with staff.store.transaction() as session:
        return list(session.checks.sheet_pairs(until or staff.clock.now() + timedelta(minutes=1), 60))


def movement(staff: Staff) -> OrdinaryMovement:
    """What the next check would be diagnosed with."""
    return _expected(staff, staff.clock.now() + timedelta(minutes=1))


def _expected(staff: Staff, now: datetime) -> OrdinaryMovement:
    name = ConditionName.parse(SATIN)
    assert name is not None
    with staff.store.transaction() as session:
        return movement_known(session, staff.house, staff.house.conditions[name], now, causes_told(session, now))


def happened(staff: Staff, kind: EventKind) -> None:
    staff.clock.advance(60.0)
    with staff.store.transaction() as session:
        session.events.add(Event(kind, staff.clock.now(), "north"), None, staff.clock.now())


def test_the_second_of_two_sheets_keeps_what_it_differs_from_the_first(staff: Staff) -> None:
    first, _ = sheet(staff), sheet(staff, 0.5)
    [nothing, pair] = kept(staff)
    assert nothing is None
    assert pair is not None
    assert pair["before"] == first.seq
    assert SheetPair.from_json(pair).glimpses[Factor.PAPER]


def test_sheets_days_apart_are_no_pair(staff: Staff) -> None:
    sheet(staff)
    sheet(staff, hours=30)
    assert kept(staff) == [None, None]


@pytest.mark.parametrize(
    ("kind", "is_pair"),
    [(EventKind.RECALIBRATION, False), (EventKind.HEADS, False), (EventKind.CHART_PRINTED, True)],
)
def test_sheets_with_something_done_between_are_no_pair(staff: Staff, kind: EventKind, is_pair: bool) -> None:
    sheet(staff)
    happened(staff, kind)
    sheet(staff)
    assert (kept(staff)[-1] is not None) is is_pair


def test_sheets_of_other_charts_are_no_pair(staff: Staff) -> None:
    sheet(staff)
    sheet(staff, patches=len(cgats.PATCHES) - 1)
    assert kept(staff)[-1] is None


def test_a_voided_sheet_takes_its_pairs_with_it_and_not_what_was_learnt_before(staff: Staff) -> None:
    first, second, third = sheet(staff), sheet(staff), sheet(staff)
    before = staff.clock.now() + timedelta(minutes=1)
    staff.clock.advance(HOUR)
    with staff.store.transaction() as session:
        session.checks.void(second.seq, "Ana", "wrong sheet", staff.clock.now())
    assert [(pair.check, pair.before) for pair in pairs(staff)] == []
    assert [(pair.check, pair.before) for pair in pairs(staff, before)] == [
        (third.seq, second.seq),
        (second.seq, first.seq),
    ]


def test_a_house_whose_sheets_move_is_expected_to_and_its_diagnosis_comes_out_again(staff: Staff) -> None:
    assert movement(staff) == AS_EVERYWHERE
    for number in range(24):
        sheet(staff, 0.2 + 1.5 * (number % 2))
    assert movement(staff).variance(Factor.PAPER) > 1.5
    subject, arrived = sheet(staff, 1.0), staff.clock.now()
    for number in range(8):
        sheet(staff, 0.2 + 3 * (number % 2))
    room = Composition(staff.room.config, clock=staff.clock)
    around = CheckSurroundings(staff.store, staff.house, arrived, arrived)
    data = room.archive.fetch(subject.sha256)
    [found] = Assessor(staff.house, room.targets, around).file(data, subject.condition, "sheet")
    assert [each.as_record() for each in found.diagnosis] == list(subject.diagnosis)
    assert _expected(staff, arrived) != movement(staff)


def test_curves_foretell_by_what_the_house_had_shown_when_the_check_came(
    staff: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As the finding of the check does: neither by what was expected before, nor by what was learnt since."""
    for number in range(24):
        sheet(staff, 0.2 + 1.5 * (number % 2))
    subject, arrived = sheet(staff, 1.0), staff.clock.now()
    for number in range(8):
        sheet(staff, 0.2 + 3 * (number % 2))
    used: list[OrdinaryMovement] = []

    def foretold(_readings: object, _terms: object, movement: OrdinaryMovement) -> NoForecast:
        used.append(movement)
        return NoForecast("not asked here")

    monkeypatch.setattr(recalibrating, "recalibration_forecast", foretold)
    room = Composition(staff.room.config, clock=staff.clock)
    curves = Recalibrating(room.records, room.archive, room.files, room.settings.recalibration.terms, staff.house)
    curves.foretold(subject.seq, None)
    assert used == [_expected(staff, arrived)]
    assert used != [AS_EVERYWHERE]
    assert used != [movement(staff)]


def test_a_check_of_which_people_told_a_fault_teaches_nothing(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    sheet(staff)
    second = sheet(staff, 5.0)
    sheet(staff)
    tell(staff, second.seq, "possibly-not-dry", "drying")
    taught: list[int] = []

    def learning(found: list[tuple[SheetPair, float]], expected: OrdinaryMovement) -> OrdinaryMovement:
        taught.append(len(found))
        return learnt(found, expected)

    monkeypatch.setattr(ordinary_movement, "learnt", learning)
    sheet(staff)
    assert taught == [0]


def test_a_verdict_withheld_without_what_was_learnt_stays_withheld(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where sheets are said to move so far that another stock is none: by numbers that no pairs could teach."""
    healthy = drawn("healthy")
    anything = OrdinaryMovement(dict.fromkeys(Factor, 400.0), 12.0)
    monkeypatch.setattr(ordinary_movement, "learnt", lambda *_: anything)
    staff = room_of(tmp_path, healthy)
    staff.take(f"{SATIN}/stock.txt", next(iter(healthy.rivals.values())))
    [check] = staff.room.checks()
    assert max((each["confidence"] for each in check.diagnosis if each["cause"] == "wrong-substrate"), default=0) < 0.9
    assert check.verdict is Verdict.UNSCORED
    staff.store.close()
