"""`sentinel rescore`: a recorded check scored again from the archive."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from sentinel.application.rescoring import RescoredCheck, rescore
from sentinel.cli.command import Commands, Exit, Parser, positive
from sentinel.render.figures import figure_lines

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition
    from sentinel.core.conditions.checks import RescoredRecord


def _options(parser: Parser) -> None:
    parser.description = (
        "Scores a recorded check again from the archived file, against the archived target and the limits "
        "it was scored with, and tells whether the figures are the same to the last bit, and what it was scored again "
        "to when the rules changed. Exit codes: 0 the same, or within 1e-9 of it, or its file was let go for its "
        "age; 1 not, as after a change of the rules; 2 no such check, or its files are not in the archive."
    )
    parser.add_argument(
        "--check", type=positive, required=True, metavar="ID", help="its number, as `sentinel checks` shows"
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_rescore)


def _rescore(options: argparse.Namespace, room: Composition) -> Exit:
    found = rescore(room.records, room.archive, options.check)
    print(json.dumps(_json(found)) if options.json else _text(found))
    return Exit.FINE if found.same else Exit.FAILED


def _json(found: RescoredCheck) -> dict[str, Any]:
    return {
        "schema": "sentinel.rescore/1",
        "check": found.check,
        "condition": found.condition,
        "recorded_verdict": found.recorded.value,
        "verdict": found.now.value,
        "rules_version": {"recorded": found.recorded_rules, "now": found.rules},
        "identical": found.identical,
        "worst_difference": found.worst,
        "differing": dict(found.differing),
        **({"refusal": found.refusal.as_json()} if found.refusal else {}),
        **({"let_go": found.let_go} if found.let_go else {}),
        "rescored": [_beside(each) for each in found.beside],
    }


def _beside(record: RescoredRecord) -> dict[str, Any]:
    return {
        "rules_version": record.rules_version,
        "verdict": record.verdict.value,
        "reasons": [reason.as_json() for reason in record.reasons],
        "metrics": record.metrics,
        "at": record.at.isoformat(),
    }


def _text(found: RescoredCheck) -> str:
    if found.let_go is not None:
        head = f"check {found.check} of {found.condition}: its file cannot be scored again: {found.let_go}"
        return "\n".join((head, "the figures on record stand", *_both(found)))
    verdicts = f"recorded {found.recorded.value}, scored again {found.now.value}"
    return "\n".join(
        (
            f"check {found.check} of {found.condition}: {verdicts}",
            f"rules version: recorded {found.recorded_rules}, now {found.rules}",
            f"the same to the last bit: {'yes' if found.identical else 'no'}",
            f"largest difference of a figure: {found.worst:g}",
            f"figures that differ: {', '.join(found.differing) or 'none'}",
            *([f"not taken any more: {found.refusal.message}"] if found.refusal else []),
            *(_both(found) if found.beside else ()),
        )
    )


def _both(found: RescoredCheck) -> Iterator[str]:
    """The figures on record, and what was kept beside them."""
    yield f"on record: {found.recorded.value} under rules version {found.recorded_rules}"
    yield from (f"  {line}" for line in figure_lines(found.figures))
    for each in found.beside:
        yield f"beside it since {each.at:%Y-%m-%d}: {_sentence(each)}"
        yield from (f"  {line}" for line in figure_lines(each.metrics))


def _sentence(record: RescoredRecord) -> str:
    said = f"{record.verdict.value} under rules version {record.rules_version}"
    return "; ".join((said, *(str(reason.message) for reason in record.reasons)))


COMMANDS: Commands = {"rescore": _options}
