"""What `check` prints: one JSON object a measurement, on which later tools rely, and a text for people."""

from __future__ import annotations

from typing import Any

from sentinel.core.assessment import Assessment
from sentinel.core.cgats.measurement import Measurement
from sentinel.core.colour.lab import D50_ASTM_E308
from sentinel.core.colour.spectra import outside_unit_range
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.render.advice import ONE_SHEET
from sentinel.render.figures import figure_lines
from sentinel.render.ladder import next_step, telling_apart

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
