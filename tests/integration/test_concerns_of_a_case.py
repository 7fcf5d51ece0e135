"""What comes up about a printing condition while its case is open belongs to that case, and to what was said of it."""

from __future__ import annotations

from datetime import timedelta

from sentinel.core.cases.kinds import CaseKind, Severity
from sentinel.core.cases.lifecycle import CaseFinding
from sentinel.core.cases.records import Silencing
from sentinel.service.dispatch import NOWHERE, AppliedTransition, Dispatcher
from tests.integration.test_dispatch import SATIN, SOUTH
from tests.support.room import Staff

HOLDS, OVER = CaseFinding(holds=True), CaseFinding(holds=False)


def stepped(staff: Staff, *steps: tuple[str, CaseKind, CaseFinding]) -> list[AppliedTransition]:
    """Steps of one transaction."""
    with staff.store.transaction() as session:
        dispatcher = Dispatcher(session, staff.house.notices, staff.told, staff.clock.now())
        found = [dispatcher.advance(subject, kind, finding, NOWHERE) for subject, kind, finding in steps]
    return [each for each in found if each is not None]


def test_a_second_concern_has_the_number_of_the_case_and_one_of_its_own(staff: Staff) -> None:
    [due] = stepped(staff, (SATIN, CaseKind.CHECK_DUE, HOLDS))
    failed, other = stepped(staff, (SATIN, CaseKind.CHECK_FAILED, HOLDS), (SOUTH, CaseKind.CHECK_FAILED, HOLDS))
    assert due.concern == due.number
    assert (failed.number, failed.concern) == (due.number, failed.concern)
    assert failed.concern != due.concern
    assert other.number == other.concern != due.number, "another printing condition is another case"
    numbers = {kind: case.number for kind, case in staff.room.records.cases.open()[SATIN].items()}
    assert numbers == {CaseKind.CHECK_DUE: due.number, CaseKind.CHECK_FAILED: due.number}


def test_the_case_goes_on_where_one_concern_ends_as_another_begins(staff: Staff) -> None:
    [due] = stepped(staff, (SATIN, CaseKind.CHECK_DUE, HOLDS))
    _, failed = stepped(staff, (SATIN, CaseKind.CHECK_DUE, OVER), (SATIN, CaseKind.CHECK_FAILED, HOLDS))
    assert failed.number == due.number
    stepped(staff, (SATIN, CaseKind.CHECK_FAILED, OVER))
    [later] = stepped(staff, (SATIN, CaseKind.CHECK_FAILED, HOLDS))
    assert later.number == later.concern != due.number, "once it was over, a new one is a new case"


def test_what_was_said_of_the_case_holds_for_what_comes_up_later(staff: Staff) -> None:
    [due] = stepped(staff, (SATIN, CaseKind.CHECK_DUE, HOLDS))
    now = staff.clock.now()
    with staff.store.transaction() as session:
        said = Silencing(True, "Ana", None, Severity.URGENT, now, now + timedelta(hours=8))
        session.cases.silence(due.number, said)
    with staff.store.transaction() as session:
        dispatcher = Dispatcher(session, staff.house.notices, staff.told, now)
        dispatcher.advance(SATIN, CaseKind.CHECK_FAILED, HOLDS, NOWHERE)
        case = dispatcher.case(SATIN, CaseKind.CHECK_FAILED)
        assert case is not None
        assert case.silence is not None
