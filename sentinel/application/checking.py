"""Scoring a file: what is in it, against what, and what its diagnosis is; as the service does it, and by hand."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Protocol

import numpy as np

from sentinel.application.causes import causes_told
from sentinel.application.names import condition_named
from sentinel.application.ordinary_movement import movement_known
from sentinel.application.second_readings import (
    LONGEST_DRYING,
    drying_learnt,
    print_read,
    sheets_read_twice,
    was_on_record,
)
from sentinel.application.sources import file_bytes, read_bytes
from sentinel.core.arrays import unpacked
from sentinel.core.assessment import (
    CODES,
    Assessment,
    assuming_ink_space,
    diagnosis_among,
    first_diagnosis,
    foretold,
    what_moved,
    withheld,
)
from sentinel.core.conditions.checks import KeptPair, moved_alike
from sentinel.core.conditions.events import EventKind
from sentinel.core.conditions.name import Clues, ConditionName, RouteRule, route
from sentinel.core.conditions.told_causes import ToldCause, cases
from sentinel.core.diagnosis.diagnose import sheet_pair
from sentinel.core.diagnosis.expectation import learnt
from sentinel.core.diagnosis.findings import FORBIDS_RECALIBRATION, Finding
from sentinel.core.diagnosis.movement import Movement
from sentinel.core.diagnosis.sheet import Context, subject_of
from sentinel.core.inks.ordinary import AS_EVERYWHERE
from sentinel.core.measurement import (
    Measurement,
    MeasurementCondition,
    ReaderBounds,
    Understand,
    UnreadableError,
    measured_at,
)
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.message import msg
from sentinel.core.policy import ConditionPolicy, DiagnosisRules, HousePolicy
from sentinel.core.scoring.groups import refuse_wrong_inks
from sentinel.core.scoring.matching import kept_lab
from sentinel.core.scoring.policy import ScoringPolicy, ScoringRules
from sentinel.core.scoring.score import (
    RULES_VERSION,
    Aim,
    Score,
    Target,
    TargetAway,
    against_rivals,
    brightener_index,
    score,
    target_from,
    unscored,
)
from sentinel.core.verdict import Code, Reason, Unscored, Verdict
from sentinel.errors import AdminError, PassingError
from sentinel.ports import Clock, Files, Store, Targets
from sentinel.settings.diagnosis import DiagnosisTable, RecalibrationTable
from sentinel.settings.site import LARGEST_MB
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, MeasurementsTable, ReaderTable


class TargetAwayError(PassingError):
    """The target of this name cannot be read just now, for this reason."""

    def __init__(self, name: str, reason: Reason) -> None:
        super().__init__(str(reason.message))
        self.name = name
        self.reason = reason


Assess = Callable[[Measurement], Assessment]


def assess_file(
    data: bytes, bounds: ReaderBounds, assess: Assess, understand: Understand = read_measurements
) -> list[Assessment]:
    """One assessment a measurement; a single unscored one where the file cannot be read at all.

    Raises Unscored where the file stopped its reader.
    """
    try:
        found = understand(data, bounds)
    except UnreadableError as fault:
        return [Assessment(unscored(Reason(Code.NOT_READABLE, fault.sentence)))]
    brightener = brightener_index(found)
    return [replace(assess(measurement), brightener=brightener) for measurement in found]


SAME_TIME = timedelta(days=1)

SHEETS_APART = timedelta(days=1)
"""Two sheets within this time tell of ordinary movement; later ones of drift too."""
CHANGES = frozenset(EventKind) - {
    EventKind.CHART_PRINTED, EventKind.PRINTED_AREA, EventKind.CLIMATE, EventKind.ROLL_LOADED, EventKind.CAUSE,
}  # fmt: skip
"""Events between two sheets after which they are not of one printing condition as it was."""


@dataclass(frozen=True, slots=True)
class CheckSurroundings:
    """What is on record around the checks of a file written at `file_time` that came `now`."""

    store: Store
    house: HousePolicy
    file_time: datetime
    now: datetime

    def of(self, policy: ConditionPolicy, measurement: Measurement, score: Score) -> Context:
        """What a diagnosis may take into account. Raises PassingError where the store would not answer."""
        condition, at = policy.name, self._measured_at(measurement)
        with self.store.transaction() as session:
            recorded = session.events.recorded({condition.printer}, at - LONGEST_DRYING)
            last = session.checks.latest([str(condition)]).get(str(condition), [])
            told = causes_told(session, self.now)
            movement = movement_known(session, self.house, policy, self.now, told)
            read_twice = sheets_read_twice(session, self.house, condition, self.now)
            readings = (
                session.checks.lightness(measurement.serial, str(condition), at, SAME_TIME, RULES_VERSION)
                if measurement.serial
                else []
            )
        events = (each.event for each in recorded if was_on_record(each, self.now))
        own = [event for event in events if event.concerns(condition) and event.at <= at]
        printed = print_read(own, condition, at)
        lots = [event.at for event in own if event.kind is EventKind.STOCK_LOT]
        checked = max((check.measured_at for check in last if check.measured_at < at), default=None)
        return Context(
            hours_since_print=None if printed is None else (at - printed.at) / timedelta(hours=1),
            drying_hours=policy.facts.drying_hours,
            drying=drying_learnt(read_twice, condition, policy.facts.drying_hours),
            new_lot=_new(lots, checked),
            moved_alike=moved_alike(str(condition), score.metrics["all"]["dl_mean"], readings, at, SAME_TIME),
            weights=learnt_here(policy.diagnosis, told.values()),
            light_inks=policy.light_inks,
            movement=movement,
        )

    def _measured_at(self, measurement: Measurement) -> datetime:
        zone = self.house.calendar.zone
        return measured_at(measurement.created, self.file_time, self.now, zone, self.house.trusted).at

    def pair(self, policy: ConditionPolicy, measurement: Measurement, score: Score) -> KeptPair | None:
        """What the sheet differs from the one before it of its printing condition, where that was read against the same
        target not long ago and nothing was done between. Raises PassingError where the store would not answer."""
        if score.match is None or score.aim is None:
            return None
        condition, at = policy.name, self._measured_at(measurement)
        with self.store.transaction() as session:
            before = session.checks.sheet_before(str(condition), at, SHEETS_APART)
            since = before.measured_at if before else at
            events = session.events.holding({condition.printer}, since) if before else ()
        if before is None or before.target_hash != score.aim.target.sha256:
            return None
        if any(each.kind in CHANGES and each.concerns(condition) and since <= each.at <= at for each in events):
            return None
        target, rules, match = score.aim.target.measurement, score.aim.reckoning, score.match
        device, labels = unpacked(before.chart.device, len(before.chart.inks)), before.chart.labels
        if (before.chart.inks, labels) != (match.inks, match.labels) or not np.array_equal(
            device, match.device, equal_nan=True
        ):
            return None
        subject = subject_of(match, target, measurement, ink_space=rules.ink_space, ink_names=rules.ink_names)
        differing = sheet_pair(subject, kept_lab(before.patch_values))
        return KeptPair(str(condition), None, before.seq, differing.as_json())


def learnt_here(rules: DiagnosisRules, told: Iterable[ToldCause]) -> dict[str, float]:
    """By cause the factor that its configured weight takes by what was told with evidence in this house."""
    return learnt(rules.weights, cases(told), GUARDED)


GUARDED = frozenset(cause.value for cause in (*CODES, *FORBIDS_RECALIBRATION))
"""Causes that withhold a verdict or forbid recalibrating: no telling makes them count for less."""


def _new(lots: Sequence[datetime], checked: datetime | None) -> bool | None:
    """Whether a lot was loaded since the last check; None where nobody told of any."""
    if not lots:
        return None
    return checked is None or max(lots) > checked


def examined(
    measurement: Measurement,
    read_under: MeasurementCondition,
    aims: Sequence[Aim],
    rules: ScoringRules,
    diagnosis: DiagnosisRules,
    rivals: Callable[[], Sequence[Target]],
    around: Callable[[Score], Context] | None = None,
) -> tuple[Score, tuple[Finding, ...], tuple[Movement, ...] | None]:
    """Its score, withheld where its diagnosis says so, that diagnosis, and what moved.

    `rivals` are fetched where the reading is no healthy print of its own; what is `around` it, where it was compared.
    """
    scored = score(measurement, read_under, aims, rules)
    context = around(scored) if around and scored.match else None
    first = first_diagnosis(scored, measurement, read_under, diagnosis.weights, context)
    others = rivals() if scored.verdict is Verdict.FAIL or first.subject else ()
    scored = against_rivals(scored, measurement, read_under, others, rules)
    found = diagnosis_among(first, scored, measurement, read_under, others, diagnosis.weights)
    judged = withheld(scored, found, diagnosis.unscored_for)
    if judged is scored and context is not None and _may_relax(context, found, diagnosis):
        # neither what people told nor how far sheets move must give a verdict that is withheld without
        unlearnt = replace(context, weights={}, movement=AS_EVERYWHERE)
        again = first_diagnosis(scored, measurement, read_under, diagnosis.weights, unlearnt)
        others = others or (rivals() if again.subject else ())
        doubts = diagnosis_among(again, scored, measurement, read_under, others, diagnosis.weights)
        judged = withheld(scored, doubts, diagnosis.unscored_for)
    return judged, foretold(found, first.subject, diagnosis.terms), what_moved(first, scored)


def _may_relax(context: Context, found: Sequence[Finding], diagnosis: DiagnosisRules) -> bool:
    """Whether what was learnt could have taken away a finding for which the verdict is withheld."""
    if not diagnosis.unscored_for:
        return False
    if context.movement != AS_EVERYWHERE:
        return True
    return bool(context.weights) and any(each.cause in CODES for each in found)


class Assessor:
    """Assesses by one policy, what `understand` makes of a file's bytes.

    With what is `around` its checks it works for the service: that can wait for a target which cannot be read just now,
    so TargetAwayError is raised. By hand the outcome is an unscored one.
    """

    def __init__(
        self,
        house: HousePolicy,
        targets: Targets,
        around: CheckSurroundings | None = None,
        understand: Understand = read_measurements,
    ) -> None:
        self._house = house
        self._targets = targets
        self._around = around
        self._understand = understand

    def file(self, data: bytes, folder: str, name: str, condition: ConditionName | None = None) -> list[Assessment]:
        """Every measurement of a file that lay in `folder` (below its drop folder) as `name` (without its ending).

        `condition` is that of somebody who knows better than the routes.
        """
        reader = self._house.reader
        if condition is not None:
            policy = self._house.conditions[condition]
            return assess_file(data, reader, lambda found: self._scored(found, policy, None), self._understand)
        return assess_file(data, reader, lambda found: self._routed(found, folder, name), self._understand)

    def _routed(self, measurement: Measurement, folder: str, name: str) -> Assessment:
        clues = Clues(measurement.keywords, folder, name)
        try:
            routed = route(clues, self._house.routes, self._house.catalogue)
        except Unscored as outcome:
            return Assessment(unscored(outcome.reason), measurement, None, measurement.condition)
        return self._scored(measurement, self._house.conditions[routed.condition], routed.rule)

    def _scored(self, measurement: Measurement, policy: ConditionPolicy, rule: RouteRule | None) -> Assessment:
        read_under = self._house.declared(measurement.condition, measurement.serial, rule)
        bare = Assessment(unscored(), measurement, policy.name, read_under)
        if policy.obstacles:
            message = msg("expected a condition that can be measured, got {condition}", condition=str(policy.name))
            return replace(bare, score=unscored(Reason(Code.CONDITION_NOT_MEASURABLE, message), *policy.obstacles))
        try:
            aims = self._aims(policy.scoring)
            if any(aim.reckoning.ink_space for aim in aims):
                refuse_wrong_inks(measurement.chart, policy.scoring.inks)
        except Unscored as outcome:
            return replace(bare, score=unscored(outcome.reason))
        scored, found, moved = examined(
            measurement,
            read_under,
            aims,
            policy.scoring.rules,
            policy.diagnosis,
            lambda: self._rivals(policy.scoring),
            partial(self._around.of, policy, measurement)
            if self._around
            else lambda _: Context(movement=policy.movement, light_inks=policy.light_inks),
        )
        pair = self._around.pair(policy, measurement, scored) if self._around else None
        return replace(bare, score=scored, diagnosis=found, moved=moved, pair=pair)

    def _aims(self, policy: ScoringPolicy) -> list[Aim]:
        """The condition's targets. One that has no version in use is passed over where others are left."""
        aims: list[Aim] = []
        gone: list[Unscored] = []
        for name in policy.own:
            try:
                target = self._targets.target(name, policy.targets[name].source)
            except TargetAway as refusal:
                if self._around is None:
                    raise
                raise TargetAwayError(name, refusal.reason) from refusal
            except Unscored as refusal:
                if refusal.reason.code is not Code.NO_TARGET:
                    raise
                gone.append(refusal)
            else:
                own = policy.targets[name]
                aims.append(Aim(target, own.limits, own.least_share, own.reckoning, own.source.required))
        if gone and not aims:
            raise gone[0]
        return aims

    def _rivals(self, policy: ScoringPolicy) -> list[Target]:
        """The targets of the other conditions of this printer, those that can be read."""
        found = []
        for name, stock in policy.rivals.items():
            try:
                target = self._targets.target(name, self._house.targets[name])
            except Unscored:
                continue  # told where that target is the aim
            found.append(replace(target, stock=stock))
        return found


@dataclass(frozen=True, slots=True)
class CheckedFile:
    """`sha256` is None where it could not be read."""

    sha256: str | None
    assessments: Sequence[Assessment]


class Scorer(Protocol):
    """One of the two ways of scoring a file that somebody names."""

    @property
    def largest_mb(self) -> float: ...
    def file(self, path: Path, data: bytes) -> list[Assessment]: ...  # one assessment a measurement


def checked(files: Files, path: Path, scorer: Scorer) -> CheckedFile | None:
    """The outcome for one file, recorded nowhere; None where there is no such file."""
    found = files.seen(path)
    if found is None:
        return None
    sha256: str | None = None
    try:
        data = read_bytes(files, found, scorer.largest_mb)
        sha256 = hashlib.sha256(data).hexdigest()
        return CheckedFile(sha256, scorer.file(path, data))
    except Unscored as outcome:
        return CheckedFile(sha256, [Assessment(unscored(outcome.reason))])
    except PermissionError:
        message = msg("expected a file that may be read, got: permission denied")
        return CheckedFile(sha256, [Assessment(unscored(Reason(Code.NO_PERMISSION, message)))])


class AgainstTargets:
    """Under the house default limits; needs no settings."""

    largest_mb = LARGEST_MB

    def __init__(self, files: Files, targets: Sequence[Path]) -> None:
        """The first file is the aim, the others are those of other stocks. Raises AdminError for one of no use."""
        aim, *self._rivals = [_target(files, file) for file in targets]
        self._aim = Aim(aim, HOUSE_LIMITS, None)
        self._rules = MeasurementsTable().rules

    def file(self, _path: Path, data: bytes) -> list[Assessment]:
        """One assessment a measurement, without a printing condition."""
        return assess_file(data, ReaderTable().bounds(LARGEST_MB), self._assess)

    def _assess(self, measurement: Measurement) -> Assessment:
        under = measurement.condition
        rules = DiagnosisTable().rules(RecalibrationTable().terms)
        scored, found, moved = examined(measurement, under, [self._aim], self._rules, rules, lambda: self._rivals)
        findings = tuple(map(assuming_ink_space, found))
        return Assessment(scored, measurement, None, under, diagnosis=findings, moved=moved)


class BySettings:
    """As the service would, for a file in its drop folder or anywhere else."""

    def __init__(
        self,
        house: HousePolicy,
        targets: Targets,
        files: Files,
        clock: Clock,
        drop: Sequence[Path],
        condition: str | None = None,
    ) -> None:
        """`drop` are the drop folders. Raises AdminError for a condition that the settings do not have."""
        self._house = house
        self._files = files
        self._clock = clock
        self._drop = [files.real(folder) for folder in drop]
        self.largest_mb = house.folders.largest_mb
        self._condition = condition_named(self._house, condition) if condition else None
        self._assessor = Assessor(house, targets)

    def file(self, path: Path, data: bytes) -> list[Assessment]:
        """One assessment a measurement."""
        found = self._assessor.file(data, self._folder(path), path.stem, self._condition)
        return [self._with_remark(assessment) for assessment in found]

    def _with_remark(self, assessment: Assessment) -> Assessment:
        serial = assessment.measurement.serial if assessment.measurement else None
        today = self._clock.now().astimezone(self._house.calendar.zone).date()
        remark = self._house.certificate_remark(serial, today) if assessment.judged else None
        return replace(assessment, score=assessment.score.noting(remark)) if remark else assessment

    def _folder(self, path: Path) -> str:
        """The folder below the drop folder; as given, for a file elsewhere."""
        parent = self._files.real(path).parent
        for drop in self._drop:
            if parent.is_relative_to(drop):
                return parent.relative_to(drop).as_posix().removeprefix(".")
        return path.parent.as_posix().removeprefix(".")


def _target(files: Files, file: Path) -> Target:
    data = file_bytes(files, file, LARGEST_MB, "a target file")
    try:
        return target_from(data, str(file), 1, "ink-space", MeasurementCondition())
    except Unscored as outcome:
        raise AdminError(str(outcome.reason.message)) from None
