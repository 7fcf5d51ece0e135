"""The facts of notices, as the service hands them on."""

from __future__ import annotations

from typing import Any

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import Notice
from sentinel.render.notices import RenderedNotice, rendered_notice

Facts = dict[str, Any]

KEY = "case-7-opened"
BEYOND = {
    "code": "action-limit",
    "message": "maximum ΔE00 of solids: expected at most the action limit 5.00, got 7.25",
}
RIVAL = {"code": "rival-fits-better", "message": "the target gloss-260 fits better: mean difference 0.80 not 4.10"}
REMARK = {"code": "m-condition-unknown", "message": "expected a measurement condition M0 to M3, not told by the target"}
OLD = {"code": "too-old", "message": "the last check is of 2026-07-06, a colour check is due after 7 days"}


def check(*reasons: dict[str, str], **changes: Any) -> Facts:
    """A check measured on a summer morning, in UTC as the store keeps it."""
    figures = {"de00_mean": 4.1, "de00_p95": 6.789, "de00_max": 7.25}
    return {
        "file_name": "monday.txt",
        "verdict": "fail",
        "reasons": list(reasons),
        "metrics": {"solids": figures, "all": {**figures, "de00_mean": 1.234}},
        "target": "satin-full",
        "patches": 72,
        "matched": 70,
        "m_condition": "M1",
        "measured_at": "2026-07-06T08:30:00+00:00",
        **changes,
    }


def condition(**changes: Any) -> Facts:
    return {
        "condition": "north/satin-240/fine",
        "printer": "North",
        "substrate": "Satin 240",
        "mode": "fine",
        "technology": "aqueous-pigment",
        "drying_hours": 2.0,
        "notes": None,
        "reasons": [],
        "timezone": "Europe/Lisbon",
        **changes,
    }


def failed(count: int = 1, *reasons: dict[str, str], **changes: Any) -> RenderedNotice:
    """As urgent as the service finds it: a suspected wrong stock is at once, a first failure is to be confirmed."""
    urgency = "urgent" if RIVAL in reasons else "confirm" if count == 1 else "alarm"
    facts = {"count": count, "check": check(*(reasons or (BEYOND,))), "urgency": urgency, **changes}
    return told(NoticeKind.CHECK_FAILED, condition(**facts))


def recovered(count: int = 1, **changes: Any) -> RenderedNotice:
    return told(NoticeKind.RECOVERED, condition(count=count, check=check(REMARK, verdict="pass"), **changes))


def due(*conditions: Facts) -> RenderedNotice:
    return told(NoticeKind.CHECK_DUE, {"conditions": list(conditions), "timezone": "Europe/Lisbon"})


def unscored(**changes: Any) -> RenderedNotice:
    facts = {
        "file_name": "monday.txt",
        "folder": "north/satin-240",
        "set_aside_as": "monday-2.txt",
        "arrived_at": "2026-01-06T08:30:00+00:00",
        "reasons": [{"code": "not-readable", "message": "line 7: expected 8 cells, got 3"}],
        "timezone": "Europe/Lisbon",
    }
    return told(NoticeKind.FILE_UNSCORED, {**facts, **changes})


def told(kind: NoticeKind, facts: Facts) -> RenderedNotice:
    return rendered_notice(Notice(KEY, kind, "colour-team", 0, facts))


def read_again(outcome: str, sentence: str, **changes: Any) -> Facts:
    """What a check tells as a second reading of the same sheet, a day later."""
    return {
        "first": 117,
        "outcome": outcome,
        "hours": 24.0,
        "same_sheet": 0.95,
        "was_wet": False,
        "misread": False,
        "excluded": [],
        "sentence": {"message": sentence},
        **changes,
    }
