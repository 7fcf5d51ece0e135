"""`sentinel diagnosis record`: how often the diagnosis was right here, as far as people told."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from sentinel.application.diagnosis_record import DiagnosisRecord, ToldCheck, diagnosis_record
from sentinel.cli.command import Commands, Exit, Parser, group_of
from sentinel.core.diagnosis.expectation import HEALTHY
from sentinel.core.diagnosis.track_record import FEWEST, ConfidenceBin, wilson_interval

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


RECORD_SCHEMA = "sentinel.diagnosis-record/1"


def record_text(found: DiagnosisRecord) -> str:
    """Bins of confidence, what is expected, and what was told, as tables."""
    return "\n\n".join(_parts(found))


def _parts(found: DiagnosisRecord) -> Iterator[str]:
    record, opinions = found.record, len(found.checks) - found.record.cases
    if not found.checks:
        yield "Nothing was told of any check yet: see `sentinel cause --help`."
        return
    yield (
        f"checks of which the cause was told with evidence: {record.cases}; by a look or an opinion alone: {opinions}, "
        f"which count nowhere\nof those with evidence a fault without any finding: {record.silent}; "
        f"findings where nothing was wrong: {record.false_alarms}"
    )
    yield f"How often the first finding of a check was right:\n{_bins(record.first)}"
    yield f"How often a finding was right, of all:\n{_bins(record.all)}"
    if found.learnt:
        yield f"What is expected of a sheet that nothing is known of:\n{_expected(found)}"
    yield f"What was told:\n{_told(found.checks)}"


def _bins(bins: Iterable[ConfidenceBin]) -> str:
    rows = [
        (f"{each.low * 100:.0f} to {each.high * 100:.0f} %", each.findings, each.right, _share(each)) for each in bins
    ]
    return tabulate(
        rows, headers=("confidence", "findings", "right", "that is"), tablefmt="simple", disable_numparse=True
    )


def _share(each: ConfidenceBin) -> str:
    if not each.enough:
        return f"too few to tell: {each.findings} of at least {FEWEST}"
    low, high = wilson_interval(each.right, each.findings)
    return f"{each.right / each.findings * 100:.0f} %, between {low * 100:.0f} % and {high * 100:.0f} %"


def _expected(found: DiagnosisRecord) -> str:
    rows = [(each["cause"], f"{each['configured']:.3f}", f"{each['expected']:.3f}") for each in _weights(found)]
    return tabulate(rows, headers=("cause", "by the settings", "here"), tablefmt="simple", disable_numparse=True)


def _weights(found: DiagnosisRecord) -> list[dict[str, Any]]:
    factors: Mapping[str, float] = {HEALTHY: 1.0, **found.learnt}
    return [
        {"cause": cause, "configured": weight, "expected": round(weight * factors.get(cause, 1.0), 6)}
        for cause, weight in found.weights.items()
    ]


def _told(checks: Iterable[ToldCheck]) -> str:
    rows = [(each.told.check, each.check.condition, each.told.line, _first(each), _right(each)) for each in checks]
    headers = ("check", "printing condition", "what it had", "first finding", "right")
    return tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)


def _first(each: ToldCheck) -> str:
    findings = each.check.diagnosis
    return f"{findings[0]['cause']}, {findings[0]['confidence'] * 100:.0f} %" if findings else "none"


def _right(each: ToldCheck) -> str:
    return "" if each.right is None else "yes" if each.right else "no"


def record_json(found: DiagnosisRecord, now: datetime) -> dict[str, Any]:
    """The same, whole. Times are UTC."""
    return {
        "schema": RECORD_SCHEMA,
        "generated_at": now.isoformat(),
        "cases": found.record.cases,
        "silent": found.record.silent,
        "false_alarms": found.record.false_alarms,
        "fewest": FEWEST,
        "first": [each.as_json() for each in found.record.first],
        "all": [each.as_json() for each in found.record.all],
        "expected": _weights(found),
        "told": [
            {
                "check": each.told.check,
                "condition": each.check.condition,
                "measured_at": each.check.measured_at.isoformat(),
                **each.told.as_json(),
                "findings": [
                    {"cause": finding["cause"], "ink": finding["ink"], "confidence": finding["confidence"]}
                    for finding in each.check.diagnosis
                ],
                "right": each.right,
            }
            for each in found.checks
        ],
    }


def _options(parser: Parser) -> None:
    record = group_of(parser).add_parser(
        "record",
        help="how often each confidence was right here",
        description="Holds the findings of checks against what people told that they really had (`sentinel cause`), "
        "where there is evidence beside the diagnosis, and shows what is expected of checks because of it.",
    )
    record.add_argument("--json", action="store_true", help="one JSON object")
    record.set_defaults(handler=_record)


def _record(options: argparse.Namespace, room: Composition) -> Exit:
    settings = room.settings
    found = diagnosis_record(room.records, settings.diagnosis.rules(settings.recalibration.terms))
    print(json.dumps(record_json(found, room.clock.now()), indent=2) if options.json else record_text(found))
    return Exit.FINE


COMMANDS: Commands = {"diagnosis": _options}
