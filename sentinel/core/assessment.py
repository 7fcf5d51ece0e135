"""One measurement of a file with all that is made of it before anything is written down: its score, its diagnosis, what
recalibrating would bring, and whether the verdict is withheld."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sentinel.core.conditions.checks import KeptPair
from sentinel.core.conditions.name import ConditionName
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.diagnose import diagnose
from sentinel.core.diagnosis.findings import CERTAIN, Evidence, Finding
from sentinel.core.diagnosis.moved import moved
from sentinel.core.diagnosis.movement import Movement
from sentinel.core.diagnosis.sheet import Context, DiagnosisSubject, rivals_of, subject_of
from sentinel.core.measurement import InstrumentName, Measurement, MeasurementCondition
from sentinel.core.recalibration.forecast import Band, NoForecast, RecalibrationForecast, recalibration_forecast
from sentinel.core.recalibration.terms import Terms
from sentinel.core.scoring.agreement import comparable
from sentinel.core.scoring.score import Score, Target
from sentinel.core.verdict import Code, Reason, Unscored, Verdict

UNKNOWN = MeasurementCondition()


@dataclass(frozen=True, slots=True, eq=False)
class Assessment:
    """`measurement` is None where the file could not be read, `condition` where nothing told it.

    `read_under` is the measurement condition with what was declared filled in; `brightener` what the file tells of the
    paper's brightener, see `scoring.score.brightener_index`. `diagnosis` is what may be wrong, best first; `moved` what
    moved, the largest first, None where nothing was compared; `pair` what it differs from the sheet just before it.
    """

    score: Score
    measurement: Measurement | None = None
    condition: ConditionName | None = None
    read_under: MeasurementCondition = UNKNOWN
    brightener: Mapping[str, float] | None = None
    diagnosis: tuple[Finding, ...] = ()
    moved: tuple[Movement, ...] | None = None
    pair: KeptPair | None = None

    @property
    def moved_json(self) -> list[dict[str, Any]] | None:
        """What moved in the form of the JSON contract."""
        return None if self.moved is None else [each.as_json() for each in self.moved]

    @property
    def table(self) -> int | None:
        """Which table of the file, from 1."""
        return self.measurement.table if self.measurement else None

    @property
    def judged(self) -> bool:
        """Whether there is a verdict on the colour."""
        return self.score.verdict is not Verdict.UNSCORED

    @property
    def recorded(self) -> bool:
        """Whether it is kept as a check: with a verdict, or one withheld for a cause that people are told of. A file
        that contradicts itself is put aside like any other that cannot be scored, so that somebody hears of it."""
        withheld_for_a_cause = any(reason.code in CODES.values() for reason in self.score.reasons)
        return self.score.match is not None and (self.judged or withheld_for_a_cause)


def foretold(findings: Sequence[Finding], subject: DiagnosisSubject | None, terms: Terms) -> tuple[Finding, ...]:
    """The findings, those that recalibrating helps with one forecast for them all: it mends every ink at once.

    Nothing is worked out where none is helped; a chart that allows no forecast leaves them as they are.
    """
    if subject is None or not any(each.recalibration_helps for each in findings):
        return tuple(findings)
    forecast = recalibration_forecast(subject.readings, terms, subject.context.movement)
    if isinstance(forecast, NoForecast):
        return tuple(findings)
    told = _told(forecast)
    return tuple(
        replace(each, predicted={**each.predicted, "recalibrated": told}) if each.recalibration_helps else each
        for each in findings
    )


def _told(forecast: RecalibrationForecast) -> dict[str, Any]:
    """Rounded as the other figures of a finding are."""
    return {
        "de00_mean": _band(forecast.mean),
        "de00_p95": _band(forecast.p95),
        "de00_max": _band(forecast.maximum),
        "confidence": 0.9,
        "remains": [{"what": part.what, "ink": part.ink, "de00": round(part.de00, 2)} for part in forecast.remains],
    }


def _band(band: Band) -> dict[str, float]:
    return {name: round(value, 2) for name, value in band.as_json().items()}


CODES = {Cause.WRONG_SUBSTRATE: Code.WRONG_SUBSTRATE, Cause.PATCH_ORDER: Code.PATCH_ORDER}
"""The causes a verdict can be withheld for, with the reason it is told by."""


def withheld(score: Score, findings: Sequence[Finding], causes: Collection[str]) -> Score:
    """The score without its verdict where one of `causes` is nearly certain, whatever else is wrong; figures stay."""
    found = next((each for each in findings if each.confidence >= CERTAIN and each.cause in CODES), None)
    if found is None or found.cause.value not in causes:
        return score
    reason = Reason(CODES[found.cause], found.evidence.sentence)
    return replace(score, verdict=Verdict.UNSCORED, reasons=(reason, *score.reasons), recovered=False)


HEADER_SAYS_SO = 0.99
OF_INKS = frozenset({Cause.SOLID, Cause.TONE, Cause.LIGHT_INK, Cause.NOT_DRY})


@dataclass(frozen=True, slots=True, eq=False)
class FirstDiagnosis:
    """What a reading shows by itself. `compared` is None where nothing could be compared, `subject` also where the
    targets of other stocks would not change the findings: in a healthy print of its own, and in one whose patches are
    out of order."""

    findings: tuple[Finding, ...] = ()
    compared: DiagnosisSubject | None = None
    subject: DiagnosisSubject | None = None


def first_diagnosis(
    score: Score,
    measurement: Measurement,
    read_under: MeasurementCondition,
    weights: Mapping[str, float],
    context: Context | None = None,
) -> FirstDiagnosis:
    """Of a check, whatever its verdict. `weights` as in `diagnose`."""
    if score.match is None or score.aim is None:
        return FirstDiagnosis(_by_header(score))
    target, rules = score.aim.target, score.aim.reckoning
    known = replace(
        context or Context(),
        aim_m=target.condition.m,
        reading_m=read_under.m,
        aim_read_with=InstrumentName(target.instrument, target.measurement.instrument),
        read_with=measurement.read_with,
    )
    subject = subject_of(
        score.match,
        target.measurement,
        measurement,
        ink_space=rules.ink_space,
        ink_names=rules.ink_names,
        context=known,
        aim_sheets=score.aim.target.aim_sheets,
    )
    found = diagnose(subject, weights)
    if not found or any(each.cause is Cause.PATCH_ORDER and each.confidence >= CERTAIN for each in found):
        return FirstDiagnosis(found, subject)
    return FirstDiagnosis(found, subject, subject)


def what_moved(first: FirstDiagnosis, score: Score) -> tuple[Movement, ...] | None:
    """Against the reading's own aim; None where nothing could be compared."""
    if first.compared is None:
        return None
    # a figure is beyond a limit, though the verdict may be withheld
    beyond = any(reason.code in (Code.ACTION_LIMIT, Code.WARNING_LIMIT) for reason in score.reasons)
    return moved(first.compared, beyond_limit=beyond)


def diagnosis_among(
    first: FirstDiagnosis,
    score: Score,
    measurement: Measurement,
    read_under: MeasurementCondition,
    rivals: Iterable[Target],
    weights: Mapping[str, float],
) -> tuple[Finding, ...]:
    """The findings, the targets of other stocks among what may explain the reading."""
    subject = first.subject
    if subject is None or score.match is None or score.aim is None:
        return first.findings
    others = rivals_of(score.match, score.aim.target.measurement, measurement, _comparable(rivals, read_under))
    return diagnose(replace(subject, rivals=others), weights) if others else first.findings


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
    return (Finding(Cause.MODE, None, None, HEADER_SAYS_SO, Evidence(said), False, {}, answers=True),)
