"""The diagnosis of a scored check."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from sentinel.core.cgats.measurement import Measurement
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.diagnose import diagnose
from sentinel.core.diagnosis.findings import CERTAIN, Evidence, Finding
from sentinel.core.diagnosis.gathering import rivals_of, subject_of
from sentinel.core.diagnosis.recalibrating import foretold
from sentinel.core.diagnosis.subject import Context
from sentinel.core.measurement_condition import MeasurementCondition
from sentinel.core.reasons import Code, Unscored
from sentinel.core.recalibration.terms import Terms
from sentinel.core.scoring.gates import comparable
from sentinel.core.scoring.score import Score, Target

HEADER_SAYS_SO = 0.99
OF_INKS = frozenset({Cause.SOLID, Cause.TONE, Cause.NOT_DRY})


def diagnosis_of(
    score: Score,
    measurement: Measurement,
    read_under: MeasurementCondition,
    rivals: Iterable[Target],
    weights: Mapping[str, float],
    terms: Terms,
    context: Context | None = None,
) -> tuple[Finding, ...]:
    """Findings for a check, whatever its verdict; none where nothing could be compared.

    `rivals` are the targets of other stocks: they are asked for only where the reading is not a healthy print of its
    own. `weights` as in `diagnose`; `terms` are those of a recalibration, which is foretold where it helps.
    """
    if score.match is None or score.aim is None:
        return _by_header(score)
    target, rules = score.aim.target, score.aim.reckoning
    known = replace(context or Context(), aim_m=target.condition.m, reading_m=read_under.m)
    subject = subject_of(
        score.match,
        target.measurement,
        measurement,
        ink_space=rules.ink_space,
        ink_names=rules.ink_names,
        context=known,
    )
    found = diagnose(subject, weights)
    if not found or (found[0].cause is Cause.PATCH_ORDER and found[0].confidence >= CERTAIN):
        return found
    others = rivals_of(score.match, target.measurement, measurement, _comparable(rivals, read_under))
    return foretold(diagnose(replace(subject, rivals=others), weights) if others else found, subject, terms)


def assuming_ink_space(finding: Finding) -> Finding:
    """A finding on inks, of a chart of which nobody said that its device values are ink amounts, saying so."""
    if finding.cause not in OF_INKS:
        return finding
    figures = {**finding.evidence.figures, "assumes": "ink-space"}
    return replace(finding, evidence=replace(finding.evidence, figures=figures))


def _comparable(rivals: Iterable[Target], read_under: MeasurementCondition) -> Iterator[tuple[str, Measurement]]:
    for rival in rivals:
        try:
            comparable(rival.condition, read_under, unknown_m_scored=True)
        except Unscored:
            continue
        yield rival.stock or rival.name, rival.measurement


def _by_header(score: Score) -> tuple[Finding, ...]:
    """A file that says itself that it was read under another M condition is not scored, and needs no inference."""
    said = next((each.message for each in score.reasons if each.code is Code.M_CONDITION_MISMATCH), None)
    if said is None:
        return ()
    return (Finding(Cause.MODE, None, None, HEADER_SAYS_SO, Evidence(said), False, {}),)
