"""Whatever is told can be answered by the number that the notice names, by itself and within others."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import nullcontext
from typing import Any, cast

import pytest

from sentinel.adapters.files.stamps import TargetHashes
from sentinel.application.cases import SilenceWanted, listed_cases, silence_cases
from sentinel.cli.cases import case_json
from sentinel.core.cases.findings import PRESSING
from sentinel.core.cases.kinds import OVER_AT_ONCE, CaseKind, CaseStep, NoticeKind, Trouble
from sentinel.core.cases.lifecycle import CaseTransition
from sentinel.core.cases.payloads import ConditionCases
from sentinel.core.cases.records import NoticeRecord, Waiting
from sentinel.render.notices import rendered_notice
from sentinel.render.notices.kinds import WRITERS
from sentinel.service.deliver import digest, together
from sentinel.service.dispatch import Dispatcher, PendingNotice
from sentinel.service.health import ServiceFault
from tests.support import cgats
from tests.support.room import Room, Staff

ANSWER = re.compile(r"sentinel ack ((?:\d+ )+)--by NAME")
SATIN = "north/satin-240"


@pytest.fixture
def staff(room: Room) -> Iterator[Staff]:
    found = Staff(room)
    yield found
    found.store.close()


def numbers_in(body: str) -> list[int]:
    return [int(number) for found in ANSWER.findall(body) for number in found.split()]


def answered(staff: Staff, number: int) -> dict[str, Any]:
    """What `ack NUMBER --json` shows of it."""
    _, [shown] = silence_cases(
        staff.house,
        lambda: cast("Any", nullcontext(staff.store)),  # the service's own stays open
        lambda: staff.room.records,
        TargetHashes(),
        [number],
        SilenceWanted(True, "Ana"),
        staff.clock.now(),
    )
    found: dict[str, Any] = json.loads(json.dumps(case_json(shown)))
    return found


def told(staff: Staff, kind: CaseKind, subject: str) -> list[NoticeRecord]:
    """Opens a case of this kind as the service does, with made-up facts; the notices of it."""
    notice = kind.notice
    facts = next(iter(WRITERS[notice].samples().values()))
    payload = notice.payload(facts)
    if isinstance(payload, ConditionCases):
        payload = payload.conditions[0]  # as each condition is handed to the dispatcher
    before = {each.seq for each in staff.room.notices()}
    with staff.store.transaction() as session:
        dispatcher = Dispatcher(session, staff.house.notices, staff.told, staff.clock.now())
        step = CaseTransition(kind, CaseStep.OPENED, notice, None, 1, kind.severity)
        dispatcher.post([PendingNotice(dispatcher.apply(subject, step), notice, payload)])
        if kind in OVER_AT_ONCE:
            dispatcher.apply(subject, CaseTransition(kind, CaseStep.CLOSED, None, None, 1))
    return [each for each in staff.room.notices() if each.seq not in before]


@pytest.mark.parametrize("kind", list(CaseKind))
def test_every_kind_of_case_is_answered_by_the_number_in_its_notice(staff: Staff, kind: CaseKind) -> None:
    [notice] = told(staff, kind, SATIN if kind in PRESSING else f"{kind.value}:one")
    found = numbers_in(rendered_notice(notice.notice).body)
    if kind in OVER_AT_ONCE:
        assert found == []
        return
    [number] = found
    shown = answered(staff, number)
    assert (shown["case"], shown["kind"]) == (number, kind.value)
    assert shown["standing"]["case"] == number
    assert shown["standing"]["seen_by"] == "Ana"
    assert {"production", "next_step", "turn", "since"} < set(shown["standing"])


def test_what_happens_in_a_room_can_be_answered_whatever_it_is_about(staff: Staff) -> None:
    """A sheet, a file that was put aside, the service itself."""
    staff.take(f"{SATIN}/sheet.txt", cgats.text(cgats.FAILING))
    staff.take("scribble.txt", "scribble END_DATA")
    staff.schedule.tick(staff.house, [ServiceFault(Trouble.DROP_FOLDER_MISSING, str(staff.room.drop))])
    found = {
        answered(staff, number)["kind"]: number
        for each in staff.room.notices()
        for number in numbers_in(rendered_notice(each.notice).body)
    }
    assert {"check-failed", "file-unscored", "service-trouble"} <= set(found)
    shown = listed_cases(staff.house, staff.room.records, TargetHashes(), False, staff.clock.now())
    assert {each.number for each in shown} == set(found.values())


def waiting(notices: list[NoticeRecord]) -> list[Waiting]:
    return [Waiting(each.seq, each.notice, each.created_at, 0) for each in notices]


def test_what_is_told_within_another_keeps_its_number_and_how_to_answer(staff: Staff) -> None:
    staff.take(f"{SATIN}/sheet.txt", cgats.text(cgats.FAILING))
    staff.take("scribble.txt", "scribble END_DATA")
    notices = staff.room.notices()
    body = rendered_notice(digest(waiting(notices), "summary-1", "UTC").notice).body
    expected = {number for each in notices for number in each.notice.facts["cases"]}
    assert set(numbers_in(body)) == expected
    assert len(expected) == 2


@pytest.mark.parametrize("count", [2, 14])
def test_files_that_came_together_are_answered_by_their_numbers_or_where_they_are_listed(
    staff: Staff, count: int
) -> None:
    for number in range(count):
        staff.take(f"scribble-{number}.txt", f"scribble {number} END_DATA")
    notices = staff.room.notices()
    body = rendered_notice(together(waiting(notices), NoticeKind.FILE_UNSCORED, "file-unscored-1").notice).body
    if count == 2:
        assert numbers_in(body) == [number for each in notices for number in each.notice.facts["cases"]]
    else:
        assert "`sentinel cases` lists them" in body
