"""`sentinel check`: score files now, record nothing; one JSON object a measurement, or a text for people."""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from sentinel.adapters.files.targets import TargetShelf
from sentinel.cli.command import Exit, of_verdicts
from sentinel.cli.sources import file_bytes, kept_targets
from sentinel.core.assessment import Assessment
from sentinel.core.colour.lab import D50_ASTM_E308
from sentinel.core.colour.spectra import outside_unit_range
from sentinel.core.conditions.name import ConditionName
from sentinel.core.diagnosis.checking import assuming_ink_space, diagnosis_of, withheld
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.scoring.score import Aim, Target, score
from sentinel.core.scoring.targets import target_from
from sentinel.core.verdict import Unscored, Verdict
from sentinel.errors import AdminError
from sentinel.render.localizer import figure_lines
from sentinel.render.remedies import ONE_SHEET, next_step, telling_apart
from sentinel.service.pipeline import Assessor, assess_file
from sentinel.settings.diagnosis import HOUSE_WEIGHTS, DiagnosisTable, RecalibrationTable
from sentinel.settings.loading import load
from sentinel.settings.resolving import Snapshot
from sentinel.settings.site import LARGEST_MB
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, MeasurementsTable, ReaderTable

if TYPE_CHECKING:
    from sentinel.cli.command import Commands


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
        "worst": [{"patch": patch.label, "de00": patch.de00} for patch in score.worst],
        "measurement": _measurement(assessment),
        "diagnosis": [finding.as_json() for finding in assessment.diagnosis],
    }


def _measurement(assessment: Assessment) -> dict[str, Any]:
    measurement, under, pairs = assessment.measurement, assessment.read_under, assessment.score.match
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
    lines += [f"  - {reason.message} ({reason.code})" for reason in assessment.score.reasons]
    lines += _causes(assessment)
    if assessment.judged:
        lines.append(f"  {ONE_SHEET}")
    elif assessment.recorded:
        lines.append(f"  {WITHHELD}")
    return "\n".join(lines)


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


class ByTarget:
    """Under the house default limits; needs no settings."""

    largest_mb = LARGEST_MB

    def __init__(self, files: Sequence[Path]) -> None:
        """The first file is the aim, the others are those of other stocks. Raises AdminError for one of no use."""
        aim, *self._rivals = [_target(file) for file in files]
        self._aim = Aim(aim, HOUSE_LIMITS, None)
        self._rules = MeasurementsTable().rules

    def file(self, _path: Path, data: bytes) -> list[Assessment]:
        """One assessment a measurement, without a printing condition."""
        return assess_file(data, ReaderTable().bounds(LARGEST_MB), self._assess)

    def _assess(self, measurement: Measurement) -> Assessment:
        under = measurement.condition
        outcome = score(measurement, under, [self._aim], self._rivals, self._rules)
        found = diagnosis_of(outcome, measurement, under, self._rivals, HOUSE_WEIGHTS, RecalibrationTable().terms)
        verdict = withheld(outcome, found, DiagnosisTable().unscored_for)
        return Assessment(verdict, measurement, None, under, diagnosis=tuple(map(assuming_ink_space, found)))


class BySettings:
    """As the service would, for a file in its drop folder or anywhere else."""

    def __init__(self, config: Path, condition: str | None) -> None:
        """Raises SettingsError, and AdminError for a condition that the settings do not have."""
        self._snapshot = Snapshot(load(config))
        self._targets = TargetShelf(kept=kept_targets(self._snapshot.loaded.settings))
        folders = self._snapshot.loaded.settings.folders
        self._drop = [folder.resolve() for folder in folders.drop]
        self.largest_mb = folders.largest_mb
        self._condition = self._known(condition) if condition else None

    def file(self, path: Path, data: bytes) -> list[Assessment]:
        """One assessment a measurement."""
        assessor = Assessor(self._snapshot.house, self._targets)
        found = assessor.file(data, self._folder(path), path.stem, self._condition)
        return [self._with_remark(assessment) for assessment in found]

    def _with_remark(self, assessment: Assessment) -> Assessment:
        serial = assessment.measurement.serial if assessment.measurement else None
        today = datetime.now(self._snapshot.loaded.settings.site.zone).date()
        remark = self._snapshot.house.certificate_remark(serial, today) if assessment.judged else None
        return replace(assessment, score=assessment.score.noting(remark)) if remark else assessment

    def _folder(self, path: Path) -> str:
        """The folder below the drop folder; as given, for a file elsewhere."""
        parent = path.resolve().parent
        for drop in self._drop:
            if parent.is_relative_to(drop):
                return parent.relative_to(drop).as_posix().removeprefix(".")
        return path.parent.as_posix().removeprefix(".")

    def _known(self, text: str) -> ConditionName:
        name = ConditionName.parse(text)
        if name is None or name not in self._snapshot.conditions:
            known = ", ".join(sorted(map(str, self._snapshot.conditions))) or "none"
            raise AdminError(f"expected a printing condition of the settings ({known}), got {text!r}")
        return name


def _target(file: Path) -> Target:
    data = file_bytes(file, LARGEST_MB, "a target file")
    try:
        return target_from(data, str(file), 1, "ink-space", MeasurementCondition())
    except Unscored as outcome:
        raise AdminError(str(outcome.reason.message)) from None


class Scorer(Protocol):
    """One of the two ways of scoring."""

    @property
    def largest_mb(self) -> float: ...
    def file(self, path: Path, data: bytes) -> Sequence[Assessment]: ...


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "check",
        help="score measurement files without recording anything",
        description="Scores CGATS measurement files. Exit codes: 0 pass or warn, 1 any failed, 2 usage, settings or "
        "no such file, 3 anything unscored; the worst of 2, 1, 3 wins.",
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
    parser.set_defaults(handler=_check)


def _check(options: argparse.Namespace) -> Exit:

    scorer: Scorer = (
        ByTarget([Path(target) for target in options.target])
        if options.target
        else BySettings(options.config, options.condition)
    )
    verdicts: list[Verdict] = []
    missing = False
    for name in options.files:
        outcome = _one(name, scorer, options.json)
        missing = missing or outcome is None
        verdicts += outcome or []
    return Exit.REFUSED if missing else of_verdicts(verdicts)


def _one(name: str, scorer: Scorer, as_json: bool) -> list[Verdict] | None:
    """Prints the outcome for one file; None where there is no such file."""
    from sentinel.adapters.files.drop_folder import FileReader, seen_at
    from sentinel.core.assessment import Assessment
    from sentinel.core.scoring.score import unscored
    from sentinel.core.verdict import Unscored
    from sentinel.service.polling import read_bytes

    path = Path(name)
    place = Path(os.path.realpath(path))  # unlike Path.resolve, takes a link to itself
    found = seen_at(place.parent, place.name)
    if found is None:
        print(f"sentinel: expected a file, there is none at {name}", file=sys.stderr)
        return None
    sha256: str | None = None
    try:
        data = read_bytes(FileReader(), found, scorer.largest_mb)
        sha256, assessments = hashlib.sha256(data).hexdigest(), list(scorer.file(path, data))
    except Unscored as outcome:
        assessments = [Assessment(unscored(outcome.reason))]
    for assessment in assessments:
        print(json.dumps(check_json(name, sha256, assessment)) if as_json else check_text(name, assessment))
    return [assessment.score.verdict for assessment in assessments]
