"""`sentinel explain`: why a printing condition stands where it stands."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from sentinel.application.causes import told_of
from sentinel.application.conditions import explained, moved_last
from sentinel.application.names import condition_named
from sentinel.application.second_readings import NO_READINGS, SecondReadings, second_readings
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.core.cases.standing import Standing
from sentinel.core.conditions.explanation import KEYS, RuleAnswer, StateExplanation
from sentinel.core.conditions.told_causes import ToldCause
from sentinel.render.plainly import plainly
from sentinel.render.standing import next_words

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


EXPLAIN_SCHEMA = "sentinel.explain/1"


Moved = Sequence[Mapping[str, Any]] | None
"""What moved on the sheet of the last check (`Movement.as_json`); None where that is not known."""


def explained_text(
    condition: str,
    explanation: StateExplanation,
    stand: Standing,
    zone: ZoneInfo,
    moved: Moved = None,
    told: Iterable[ToldCause] = (),
    readings: SecondReadings = NO_READINGS,
) -> str:
    """The state with its reasons, what moved on the last sheet, what second `readings` tell and what was `told` of the
    checks behind it, then a paragraph a rule, those that hold first."""
    report = explanation.report
    lines = [f"{condition}: {report.state.value}", *_standing(stand, zone)]
    if report.last:
        measured = report.last.measured_at.astimezone(zone)
        lines.append(f"last check: {report.last.verdict.value}, measured {measured:%Y-%m-%d %H:%M}")
        lines += _moved(moved)
    if readings.again is not None:
        again = readings.again
        lines.append(f"check {again.second} beside check {again.first}: {again.weighed.sentence}")
    lines += [f"check {each.check} had: {each.line}" for each in told]
    if report.due_at:
        lines.append(f"due: {report.due_at.astimezone(zone):%Y-%m-%d %H:%M}")
    lines += [f"- {plainly(reason.message)} ({reason.code})" for reason in report.reasons]
    lines += [f"drying: {sentence}" for sentence in readings.drying_words]
    if not explanation.answers:
        lines.append("No rule is asked: this comes before all of them.")
    for answer in sorted(explanation.answers, key=lambda each: ORDER.index(each.answer)):
        lines += ["", *_rule(answer, zone)]
    return "\n".join(lines)


def _moved(moved: Moved) -> list[str]:
    if moved is None:
        return ["what moved on it: not known, an earlier program scored it"]
    if not moved:
        return ["what moved on it: nothing beyond what sheets differ by"]
    return ["what moved on it:", *(f"  - {each['sentence']}" for each in moved)]


def _standing(stand: Standing, zone: ZoneInfo) -> list[str]:
    lines = [f"production: {stand.production.value}", next_words(stand)]
    if stand.number is not None and stand.since is not None:
        seen = f", {stand.seen_by} sees to it" if stand.seen_by else ""
        lines.append(f"case: {stand.number}, open since {stand.since.astimezone(zone):%Y-%m-%d %H:%M}{seen}")
    return lines


ORDER = ("holds", "will hold", "does not hold", "off")


def _rule(answer: RuleAnswer, zone: ZoneInfo) -> list[str]:
    since = f" from {answer.since.astimezone(zone):%Y-%m-%d %H:%M}" if answer.since else ""
    lines = [f"{answer.rule}: {answer.answer}{since}"]
    if answer.answer == "off":
        return [*lines, f"  switched on by [due] {' or '.join(KEYS[answer.rule])}"]
    if answer.message:
        lines.append(f"  why: {answer.message}")
    unit = SET_IN.get(answer.rule, "")
    keys = ", ".join(f"[due] {key}" for key in KEYS[answer.rule])
    setting = f"{_with_unit(answer.setting, unit)} ({keys})" if keys else "always"
    lines += [f"  set to: {setting}", f"  looked at: {_inputs(answer.inputs)}"]
    return [*lines, f"  changed by: {answer.change}"]


def _inputs(inputs: Mapping[str, Any]) -> str:
    return "; ".join(f"{name} = {_with_unit(value, COUNTED_IN.get(name, ''))}" for name, value in inputs.items())


SET_IN = {
    "warned_times": "checks",
    "max_age_days": "days",
    "square_metres": "square metres",
    "standstill_days": "days",
    "forecast": "days ahead",
}
"""What a rule's setting is counted in."""
COUNTED_IN = {
    "celsius": "°C",
    "percent_humidity": "%",
    "warnings in a row": "checks",
    "reports since": "reports",
    "readings that count": "readings",
    "figures with a sure trend": "figures",
    "without one": "figures",
    "without a forecast": "figures",
}
"""The same of what it looked at."""
ONE_OF = {
    "checks": "check",
    "days": "day",
    "days ahead": "day ahead",
    "square metres": "square metre",
    "reports": "report",
    "readings": "reading",
    "figures": "figure",
}
"""What one of them is called."""


def _with_unit(value: Any, unit: str) -> str:
    """With the unit behind a number, and behind each of several."""
    if isinstance(value, list | tuple):
        return ", ".join(_with_unit(each, unit) for each in value) or "none"
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    named = ONE_OF.get(unit, unit) if value == 1 else unit
    return f"{value:g} {named}" if unit and is_number else _plain(value)


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return _inputs(value)
    return "unknown" if value is None else str(value)


def explained_json(
    condition: str,
    explanation: StateExplanation,
    stand: Standing,
    now: datetime,
    moved: Moved = None,
    told: Iterable[ToldCause] = (),
    readings: SecondReadings = NO_READINGS,
) -> dict[str, Any]:
    """The same, whole."""
    report = explanation.report
    return {
        "schema": EXPLAIN_SCHEMA,
        "generated_at": now.isoformat(),
        "condition": condition,
        "state": report.state.value,
        "reasons": [reason.as_json() for reason in report.reasons],
        "due_at": report.due_at.isoformat() if report.due_at else None,
        "standing": stand.as_json(),
        "moved": None if moved is None else list(moved),
        "read_again": None if readings.again is None else readings.again.as_json(),
        "drying": readings.drying_json,
        "causes_told": [{"check": each.check, **each.as_json()} for each in told],
        "rules": [
            {
                "rule": answer.rule,
                "keys": list(KEYS[answer.rule]),
                "setting": answer.setting,
                "inputs": answer.inputs,
                "answer": answer.answer,
                "since": answer.since.isoformat() if answer.since else None,
                "message": answer.message,
                "changed_by": answer.change,
            }
            for answer in explanation.answers
        ],
    }


def _options(parser: Parser) -> None:
    parser.description = (
        "Shows every rule that can make a check of this condition due: its setting, what it looked at, its "
        "answer, and what would change it."
    )
    parser.add_argument("condition", metavar="CONDITION", help="such as north/satin-240, by names or aliases")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_explain)


def _explain(options: argparse.Namespace, room: Composition) -> Exit:
    house = room.house
    name = condition_named(house, options.condition)
    records, now = room.records, room.clock.now()
    explanation, stand = explained(house, records, room.hashes, name, now)
    moved = moved_last(records, explanation.report)
    withheld = records.checks.withheld([str(name)]).values()
    behind = {each.seq for each in (explanation.report.last, explanation.report.decisive, *withheld) if each}
    told = [cause for _, cause in sorted(told_of(records, behind).items())]
    last = next(iter([*withheld, explanation.report.last]))  # one that is withheld was measured last
    readings = second_readings(records, house, name, None if last is None else last.seq, now)
    if options.json:
        print(json.dumps(explained_json(str(name), explanation, stand, now, moved, told, readings), indent=2))
    else:
        zone = room.settings.site.zone
        print(explained_text(str(name), explanation, stand, zone, moved, told, readings))
    return Exit.FINE


COMMANDS: Commands = {"explain": _options}
