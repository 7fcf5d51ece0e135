"""A kind is one thing, and what it tells comes back from JSON as it went there."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime

import pytest

from sentinel.core.cases.kinds import CaseKind, NoticeKind, Severity
from sentinel.core.cases.payloads import (
    ArrivalsCase,
    CertificateCase,
    CheckCase,
    CheckFacts,
    ConditionCase,
    ConditionCases,
    FailedCheckCase,
    PayloadError,
    ReasonFacts,
    RefusedFileCase,
    TroubleCase,
    kept_message,
)
from sentinel.core.message import msg

NOON = datetime(2026, 3, 30, 12, tzinfo=UTC)
REASON = ReasonFacts(code="too-old", message=msg("older than {span}", span="a week"))
CONDITION = ConditionCase(
    condition="north/satin-240", printer="North", substrate="Satin 240", technology="latex", reasons=(REASON,)
)
CHECK = CheckFacts(
    file_name="a.txt", reasons=(), metrics={"all": {"de00_mean": 1}}, target="t", matched=3, m_condition=None,
    measured_at=NOON,
)  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        (NoticeKind.CHECK_DUE, ConditionCases(conditions=(CONDITION, CONDITION))),
        (
            NoticeKind.FILE_UNSCORED,
            RefusedFileCase(file_name="a", folder="", set_aside_as=None, arrived_at=NOON, reasons=(REASON,)),
        ),
        (NoticeKind.CERTIFICATE_EXPIRED, CertificateCase(instrument="4711", day=date(2026, 3, 1))),
        (NoticeKind.NOTHING_ARRIVED, ArrivalsCase(hours=9, last_at=NOON)),
        (NoticeKind.SERVICE_TROUBLE, TroubleCase(trouble="store-refuses", about="", detail="full")),
        (NoticeKind.RECOVERED, TroubleCase(trouble="store-refuses", about="", detail="")),
    ],
)
def test_what_a_kind_tells_comes_back_from_json_as_it_went(kind: NoticeKind, payload: object) -> None:
    assert kind.payload(json.loads(json.dumps(payload.as_json()))) == payload  # type: ignore[attr-defined]


def test_a_case_of_a_condition_is_read_as_its_kind_needs_it() -> None:
    kept = {**CONDITION.as_json(), "check": CHECK.as_json(), "count": 2}
    recovered = NoticeKind.RECOVERED.payload(kept)
    assert isinstance(recovered, CheckCase)
    assert (recovered.check, recovered.count) == (CHECK, 2)
    with pytest.raises(PayloadError, match="facts: expected 'urgency', got none"):
        NoticeKind.CHECK_FAILED.payload(kept)
    assert isinstance(NoticeKind.CHECK_FAILED.payload({**kept, "urgency": "alarm"}), FailedCheckCase)


def test_what_has_no_version_is_of_the_first_and_that_of_another_is_refused() -> None:
    kept = TroubleCase(trouble="store-refuses", about="", detail="full").as_json()
    assert kept.pop("version") == 1
    assert NoticeKind.SERVICE_TROUBLE.payload(kept)
    with pytest.raises(PayloadError, match="facts: expected version 1, got 2"):
        NoticeKind.SERVICE_TROUBLE.payload({**kept, "version": 2})


def test_a_condition_told_before_several_made_one_notice_is_one_of_one() -> None:
    told = NoticeKind.CHECK_DUE.payload({**CONDITION.as_json(), "timezone": "UTC"})
    assert told == ConditionCases(conditions=(CONDITION,))


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"reasons": 5}, "facts.reasons: expected a list, got int"),
        ({"reasons": [{"message": "x"}]}, r"facts.reasons\[0\]: expected a reason with its code, got dict"),
        ({"printer": None}, "facts.printer: expected a str, got NoneType"),
        ({"drying_hours": True}, "facts.drying_hours: expected a float, got bool"),
        ({"due_at": "tomorrow"}, "facts.due_at: expected a datetime, got str"),
        ({"check": {"file_name": "a"}}, "facts.check: expected 'reasons', got none"),
    ],
)
def test_a_fault_says_where_it_is_and_what_was_expected(changes: dict[str, object], where: str) -> None:
    with pytest.raises(PayloadError, match=where):
        ConditionCase.from_json({**CONDITION.as_json(), **changes})


def test_a_message_that_cannot_be_made_again_is_its_english() -> None:
    kept = {"message": "it was so", "pattern": "it was {how}", "values": {"when": "now"}}
    assert kept_message(kept) == msg("it was so")
    assert kept_message({**kept, "values": 7}) == msg("it was so")


def test_a_case_is_called_and_as_pressing_as_the_first_of_its_notices() -> None:
    for kind in CaseKind:
        assert kind.value == kind.notice.value
        assert kind.severity is kind.notice.severity
        assert kind.told_as(kind.severity, frozenset()) is kind.notice
    assert CaseKind.CHECK_FAILED.told_as(Severity.CONFIRM, frozenset()) is NoticeKind.CONFIRM_FAILURE
    assert CaseKind.CHECK_FAILED.told_as(Severity.CONFIRM, frozenset({"rival-fits-better"})) is NoticeKind.WRONG_STOCK
    assert CaseKind.CHECK_DUE.told_as(Severity.ROUTINE, frozenset({"warned-repeatedly"})) is NoticeKind.WARNING_REPEATED


def test_whatever_a_case_may_be_told_as_is_among_its_notices() -> None:
    codes = [frozenset(), frozenset({"rival-fits-better"}), frozenset({"warned-repeatedly"}), frozenset({"too-old"})]
    for kind in CaseKind:
        assert {kind.told_as(severity, each) for severity in Severity for each in codes} <= set(kind.notices)
