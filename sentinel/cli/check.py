"""`sentinel check`: score files now, record nothing; one JSON object a measurement, or a text for people."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sentinel.application.checking import AgainstTargets, BySettings, Scorer, checked
from sentinel.application.names import is_number
from sentinel.application.voiding import void_check
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.core.assessment import Assessment
from sentinel.core.colour.lab import D50_ASTM_E308
from sentinel.core.colour.spectra import outside_unit_range
from sentinel.core.diagnosis.findings import Finding, answer, answer_json
from sentinel.core.dropped_file import shown
from sentinel.core.measurement import Measurement
from sentinel.core.measurement.interpretation import Account
from sentinel.core.scoring.groups import named_inks
from sentinel.core.scoring.names import group_words
from sentinel.core.scoring.score import Score
from sentinel.core.verdict import Verdict
from sentinel.errors import AdminError
from sentinel.render.figures import MAIN_GROUPS, figure_lines, ink_lines
from sentinel.render.remedies import ONE_SHEET, next_step, telling_apart

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


CHECK_SCHEMA = "sentinel.check/1"

WITHHELD = "The verdict is withheld: these figures are of another stock, or of patches out of order, not of the print."

EMPTY_METRICS = {"all": {"de00_mean": None, "de00_p95": None, "de00_max": None}, "paper": {"de00_mean": None}}


def check_json(file: str, sha256: str | None, assessment: Assessment) -> dict[str, Any]:
    """The outcome for one measurement. `file` is the path as it was given."""
    score = assessment.score
    return {
        "schema": CHECK_SCHEMA,
        "file": file,
        "sha256": sha256,
        "table": assessment.table,
        "condition": str(assessment.condition) if assessment.condition else None,
        "verdict": score.verdict.value,
        "reasons": [reason.as_json() for reason in score.reasons],
        "metrics": {**EMPTY_METRICS, **score.metrics},
        "patches": {name: {"read": count.read, "target": count.target} for name, count in score.patches.items()},
        "worst": [{"patch": patch.label, "de00": patch.de00} for patch in score.worst],
        "measurement": _measurement(assessment),
        "diagnosis": [finding.as_json() for finding in assessment.diagnosis],
        "answer": answer_json(each.as_json() for each in answer(assessment.diagnosis)),
        "moved": assessment.moved_json,
        "interpretation": _interpretation(assessment),
    }


def _interpretation(assessment: Assessment) -> dict[str, Any] | None:
    """What the file was taken to mean, with what was declared for it; `target` is what the target's was."""
    if assessment.measurement is None:
        return None
    measurement = assessment.measurement
    inks = _called(measurement.chart.inks, assessment.score)
    read_as = measurement.interpretation.declaring(measurement.condition, assessment.read_under, inks)
    return {**read_as.as_json(), "target": _target(assessment.score)}


def _called(inks: tuple[str, ...], score: Score) -> tuple[str, ...]:
    """What the settings call inks of which the file knows the channel alone; none where it names them itself."""
    called = named_inks(inks, score.aim.reckoning.ink_names) if score.aim else inks
    return called if called != inks else ()


def _target(score: Score) -> dict[str, Any] | None:
    """Under what the aim was read, and what of it the settings declare, in the form of the file's own."""
    if score.aim is None:
        return None
    target = score.aim.target
    read_as = target.measurement.interpretation.declaring(target.measurement.condition, target.condition)
    declared = read_as.as_json()[Account.DECLARED.value]
    return {"m_condition": target.condition.m, "backing": target.condition.backing, "declared": declared}


def _measurement(assessment: Assessment) -> dict[str, Any]:
    measurement, under = assessment.measurement, assessment.read_under
    pairs, aim = assessment.score.match, assessment.score.aim
    spectral = measurement is not None and measurement.reflectance is not None
    return {
        "m_condition": under.m,
        "illuminant": "D50" if spectral else under.illuminant,
        "observer": 2 if spectral else under.observer,
        "white": list(D50_ASTM_E308),
        "bandpass": under.bandpass,
        "outside_unit_range": _outside(measurement),
        "patches": len(measurement.chart.ids) if measurement else 0,
        "matched": len(pairs) if pairs else 0,
        "brightener": assessment.brightener,
        "density_status": aim.reckoning.density_status if aim and pairs and pairs.has_spectra else None,
        "assumptions": [
            {"code": str(each.code), "message": each.message, "line": each.line}
            for each in (measurement.assumptions if measurement else ())
        ],
    }


def _outside(measurement: Measurement | None) -> int:
    """How many spectra hold a reflectance below 0 or above 1, which is kept as it is."""
    if measurement is None or measurement.reflectance is None:
        return 0
    return int(outside_unit_range(measurement.reflectance).sum())


def check_text(file: str, assessment: Assessment) -> str:
    """The same for people."""
    table = f", table {assessment.table}" if assessment.table else ""
    place = f" ({assessment.condition})" if assessment.condition else ""
    lines = [f"{file}{table}{place}: {assessment.score.verdict.value}"]
    lines += [f"  {line}" for line in figure_lines(assessment.score.metrics)]
    if assessment.score.aim:
        status = assessment.score.aim.reckoning.density_status
        lines += [f"  {line}" for line in ink_lines(assessment.score.metrics, status)]
    lines += _counts(assessment.score)
    lines += [f"  - {reason.message} ({reason.code})" for reason in assessment.score.reasons]
    lines += _moved(assessment)
    lines += _causes(assessment)
    if assessment.judged:
        lines.append(f"  {ONE_SHEET}")
    elif assessment.recorded:
        lines.append(f"  {WITHHELD}")
    return "\n".join(lines)


def _counts(score: Score) -> list[str]:
    """How many patches stand behind the figures: of the main groups, and of those with limits."""
    limited = [group for group, wanted in score.aim.limits.items() if wanted] if score.aim else []
    told = [group for group in dict.fromkeys((*MAIN_GROUPS, *limited)) if group in score.patches]
    counts = ((group_words(group), score.patches[group]) for group in told)
    each = [f"{words} {count.read} of {count.target}" for words, count in counts]
    return [f"  patches read of the aim's: {', '.join(each)}"] if each else []


MOST_MOVED = 8
"""Movements that are printed; `--json` has them all."""


def _moved(assessment: Assessment) -> list[str]:
    """What moved: of a sheet within its limits no fault."""
    movements = assessment.moved
    if not movements:
        return []
    within = assessment.score.verdict is Verdict.PASS
    head = "what moved, within the limits and no fault:" if within else "what moved:"
    left = len(movements) - MOST_MOVED
    more = [f"  - and {left} more, see --json"] if left > 0 else []
    return [f"  {head}", *(f"  - {each.sentence}" for each in movements[:MOST_MOVED]), *more]


def _causes(assessment: Assessment) -> list[str]:
    """The answer of the diagnosis, who acts next, and what would tell its causes apart."""
    told = answer(assessment.diagnosis)
    if not told:
        return []
    head = "what may be wrong:" if len(told) == 1 else "one of these may be wrong, or several:"
    if any("assumes" in each.evidence.figures for each in told):
        head = f"{head[:-1]}, if the chart was printed with colour management off:"
    lines = [f"  {head}"]
    for each in told:
        lines.append(f"  - {each.cause}, {_likely(each)}: {each.evidence.sentence}")
        lines.append(f"    {each.who_acts} acts. Next: {next_step(each.cause, None)}")
    return [*lines, *(f"  what tells them apart: {words}" for words in telling_apart(each.as_json() for each in told))]


def _likely(finding: Finding) -> str:
    return f"{min(finding.confidence, 0.99):.0%}"


def _options(parser: Parser) -> None:
    parser.description = (
        "Scores CGATS measurement files. Exit codes: 0 pass or warn, 1 any failed, 2 usage, settings or "
        "no such file, 3 anything unscored; the worst of 2, 1, 3 wins."
    )
    parser.add_argument("files", nargs="+", metavar="FILE", help="a measurement file")
    against = parser.add_mutually_exclusive_group()
    parser.add_argument("--json", action="store_true", help="one JSON object a measurement, a line each")
    against.add_argument(
        "--target",
        action="append",
        default=[],
        metavar="TARGET",
        help="score against this CGATS file under the house default limits, without any settings; given again, it "
        "names the target of another stock, to tell a wrong stock",
    )
    against.add_argument(
        "--condition", metavar="CONDITION", help="the printing condition, where no route of the settings tells it"
    )
    void = parser.add_argument_group(
        "taking a recorded check back", "sentinel check void ID --by WHO --why TEXT; the check stays on record"
    )
    void.add_argument("--by", metavar="WHO", help="who takes it back: the colour lead's deed")
    void.add_argument("--why", metavar="TEXT", help="the reason")
    parser.set_defaults(handler=_check)


VOID = "void"
"""In the place of the first file: a recorded check is taken back. A file of this name is `./void`."""


def _void(options: argparse.Namespace, room: Composition) -> Exit:
    ids = options.files[1:]
    if len(ids) != 1 or not is_number(ids[0]) or options.by is None or options.why is None:
        raise AdminError("expected `sentinel check void ID --by WHO --why TEXT`; ID as `sentinel checks` shows it")
    found = void_check(room.reading, room.writing, int(ids[0]), options.by, options.why, room.clock.now())
    if options.json:
        again = [each.seq for each in found.again]
        voided = {"schema": "sentinel.check-voided/1", "check": found.check.seq, "condition": found.check.condition}
        print(json.dumps({**voided, "counts_again": again}))
        return Exit.FINE
    for word, record in (("voided", found.check), *(("counts again", each) for each in found.again)):
        measured = record.measured_at.astimezone(room.settings.site.zone)
        told = f"check {record.seq}, {record.condition}, measured {measured:%Y-%m-%d %H:%M}, {record.verdict.value}"
        print(f"{word}: {told}")
    return Exit.FINE


def _check(options: argparse.Namespace, room: Composition) -> Exit:
    if options.files[0] == VOID:
        return _void(options, room)
    if options.by is not None or options.why is not None:
        raise AdminError("expected --by and --why with `sentinel check void` alone")
    scorer = _scorer(options, room)
    verdicts: list[Verdict] = []
    missing = False
    for name in options.files:
        found = checked(room.files, Path(name), scorer)
        if found is None:
            print(f"sentinel: expected a file, there is none at {shown(name)}", file=sys.stderr)
            missing = True
            continue
        for assessment in found.assessments:
            if options.json:
                print(json.dumps(check_json(name, found.sha256, assessment)))
            else:
                print(check_text(shown(name), assessment))
            verdicts.append(assessment.score.verdict)
    return Exit.REFUSED if missing else of_verdicts(verdicts)


def _scorer(options: argparse.Namespace, room: Composition) -> Scorer:
    if options.target:
        return AgainstTargets(room.files, [Path(target) for target in options.target])
    drop = room.settings.folders.drop
    return BySettings(room.house, room.targets, room.files, room.clock, drop, options.condition)


def of_verdicts(verdicts: Iterable[Verdict]) -> Exit:
    """Any failure, else anything unscored, else fine."""
    seen = set(verdicts)
    if Verdict.FAIL in seen:
        return Exit.FAILED
    return Exit.UNSCORED if Verdict.UNSCORED in seen else Exit.FINE


COMMANDS: Commands = {"check": _options}
