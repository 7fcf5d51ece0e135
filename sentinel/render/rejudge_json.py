"""What `rejudge --json` prints."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from sentinel.core.incidents import NoticeKind
from sentinel.core.rejudging import Both, Figure, JudgedCheck, Judgement, Rejudged, ToldAlarm
from sentinel.core.state import StateReport
from sentinel.core.verdict import Verdict

REJUDGE_SCHEMA = "sentinel.rejudge/1"
SIDES = ("running", "edited")
VERDICTS = (Verdict.PASS, Verdict.WARN, Verdict.FAIL)
ALARMS = (NoticeKind.CHECK_FAILED, NoticeKind.CHECK_DUE, NoticeKind.RECOVERED)


def rejudged_json(found: Rejudged, files: Both[str], now: datetime) -> dict[str, Any]:
    """All that differs, whole; `files` are those of the two settings."""
    verdicts = [{verdict.value: counts[verdict] for verdict in VERDICTS} for counts in found.verdict_counts]
    alarms = [{kind.value: counts[kind] for kind in ALARMS} for counts in found.alarm_counts]
    return {
        "schema": REJUDGE_SCHEMA,
        "generated_at": now.isoformat(),
        "settings": _sides(files),
        "history": _history(found),
        "verdicts": {**_sides(verdicts), "changed": [_verdict(each) for each in found.verdict_changes]},
        "alarms": {
            **_sides(alarms),
            "changed": [_sides(map(_alarm, change)) | _of(change.either) for change in found.alarm_changes],
        },
        "due": {
            "changed": [{"condition": name, **_sides(map(_state, both))} for name, both in found.due_changes.items()],
            "at_once": list(found.due_at_once),
        },
        "unknown": [{**_figure(figure), "checks": count} for figure, count in found.unknown_counts.most_common()],
        "one_sided": [each._asdict() for each in found.one_sided],
        "not_replayed": list(found.not_replayed),
    }


def _sides(both: Iterable[Any]) -> dict[str, Any]:
    return dict(zip(SIDES, both, strict=True))


def _history(found: Rejudged) -> Mapping[str, Any]:
    return {
        "since": found.since.isoformat() if found.since else None,
        "checks": sum(map(len, found.conditions.values())),
        "judged_again": len(found.checks),
        "recorded_otherwise": found.recorded_otherwise,
        "conditions": [
            {
                "condition": name,
                "checks": len(times),
                "first_measured_at": times[0].isoformat() if times else None,
                "last_measured_at": times[-1].isoformat() if times else None,
            }
            for name, times in found.conditions.items()
        ],
    }


def _verdict(each: JudgedCheck) -> dict[str, Any]:
    score, decider = each.score, each.decider
    return {
        "check": score.seq,
        "condition": score.condition,
        "measured_at": score.measured_at.isoformat(),
        "recorded": score.verdict.value,
        **_sides(_judgement(each, side) for side in each.judged),
        "decided_by": decider
        and {
            **_figure((decider.group, decider.metric)),
            "value": decider.value,
            "level": decider.level,
            "limit": _sides(decider.limit),
        },
        "unknown": [_figure(figure) for figure in sorted(each.open_figures)],
    }


def _judgement(each: JudgedCheck, side: Judgement) -> dict[str, Any]:
    return {"verdict": side.verdict.value, "certain": each.is_certain(side)}


def _figure(figure: Figure) -> dict[str, str]:
    return {"group": figure[0], "metric": figure[1]}


def _of(told: ToldAlarm) -> dict[str, Any]:
    return {"condition": told.condition, "kind": told.alarm.kind.value, "check": told.alarm.check}


def _alarm(told: ToldAlarm | None) -> dict[str, Any] | None:
    if told is None:
        return None
    return {
        "at": told.alarm.at.isoformat(),
        "count": told.alarm.count,
        "urgency": told.urgency,
        "codes": [code.value for code in told.alarm.codes],
    }


def _state(report: StateReport) -> dict[str, Any]:
    return {
        "state": report.state.value,
        "due_at": report.due_at.isoformat() if report.due_at else None,
        "reasons": [reason.as_json() for reason in report.reasons],
    }
