"""From the bytes of a file to an assessment of each measurement in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from sentinel.core.assessment import Assessment
from sentinel.core.cgats import Bounds, CgatsError, measurements, read
from sentinel.core.cgats.measurement import Measurement
from sentinel.core.condition import ConditionName
from sentinel.core.diagnosis.checking import diagnosis_of
from sentinel.core.diagnosis.subject import Context
from sentinel.core.diagnosis.withholding import withheld
from sentinel.core.reasons import Code, Reason, Unscored
from sentinel.core.routing import Clues, RouteRule, route
from sentinel.core.said import said
from sentinel.core.scoring.brightener import brightener_index
from sentinel.core.scoring.inks import refuse_wrong_inks
from sentinel.core.scoring.score import Aim, Score, Target, score, unscored
from sentinel.service.ports import Targets
from sentinel.service.reading import MEGABYTE
from sentinel.settings.judging import Reader
from sentinel.settings.limit_sets import limits_for
from sentinel.settings.snapshot import Snapshot

Assess = Callable[[Measurement], Assessment]
Around = Callable[[ConditionName, Measurement, Score], Context]
"""What is known around a check, for its diagnosis."""


def assess_file(data: bytes, bounds: Bounds, assess: Assess) -> list[Assessment]:
    """One assessment a measurement; a single unscored one where the file cannot be read at all."""
    try:
        found = measurements(read(data, bounds))
    except CgatsError as fault:
        return [Assessment(unscored(Reason(Code.NOT_READABLE, fault.sentence)))]
    brightener = brightener_index(found)
    return [replace(assess(measurement), brightener=brightener) for measurement in found]


def bounds_of(reader: Reader, largest_mb: float) -> Bounds:
    """The settings' bounds as the reader takes them."""
    return Bounds(
        file_bytes=round(largest_mb * MEGABYTE),
        rows=reader.rows,
        columns=reader.columns,
        tables=reader.tables,
        token_bytes=round(reader.cell_mb * MEGABYTE),
        header_lines=reader.header_lines,
    )


class Assessor:
    """Assesses under one snapshot of the settings."""

    def __init__(self, snapshot: Snapshot, targets: Targets, around: Around | None = None) -> None:
        self._snapshot = snapshot
        self._targets = targets
        self._around = around
        settings = snapshot.loaded.settings
        self._bounds = bounds_of(settings.reader, settings.folders.largest_mb)

    def file(self, data: bytes, folder: str, name: str, condition: ConditionName | None = None) -> list[Assessment]:
        """Every measurement of a file that lay in `folder` (below its drop folder) as `name` (without its ending).

        `condition` is that of somebody who knows better than the routes.
        """
        if condition is not None:
            return assess_file(data, self._bounds, lambda measurement: self._scored(measurement, condition, None))
        return assess_file(data, self._bounds, lambda measurement: self._routed(measurement, folder, name))

    def _routed(self, measurement: Measurement, folder: str, name: str) -> Assessment:
        clues = Clues(measurement.keywords, folder, name)
        try:
            routed = route(clues, self._snapshot.routes, self._snapshot.catalogue)
        except Unscored as outcome:
            return Assessment(unscored(outcome.reason), measurement, None, measurement.condition)
        return self._scored(measurement, routed.condition, routed.rule)

    def _scored(self, measurement: Measurement, condition: ConditionName, rule: RouteRule | None) -> Assessment:
        snapshot = self._snapshot
        read_under = snapshot.declared(measurement.condition, measurement.serial, rule)
        bare = Assessment(unscored(), measurement, condition, read_under)
        if obstacles := snapshot.obstacles(condition):
            message = said("expected a condition that can be measured, got {condition}", condition=str(condition))
            return replace(bare, score=unscored(Reason(Code.CONDITION_NOT_MEASURABLE, message), *obstacles))
        try:
            aims = self._aims(condition)
            if any(aim.reckoning.ink_space for aim in aims):
                refuse_wrong_inks(measurement.chart, snapshot.ink_set(condition))
        except Unscored as outcome:
            return replace(bare, score=unscored(outcome.reason))
        scored = score(measurement, read_under, aims, self._rivals(condition), snapshot.policy)
        context = self._around(condition, measurement, scored) if self._around and scored.match else None
        rivals, weights, settings = self._rivals(condition), snapshot.diagnosis_weights, snapshot.loaded.settings
        terms = settings.recalibration.terms
        found = diagnosis_of(scored, measurement, read_under, rivals, weights, terms, context)
        verdict = withheld(scored, found, settings.diagnosis.unscored_for)
        return replace(bare, score=verdict, diagnosis=found)

    def _aims(self, condition: ConditionName) -> list[Aim]:
        """The condition's targets. One that has no version in use is passed over where others are left."""
        aims: list[Aim] = []
        gone: list[Unscored] = []
        for name in self._snapshot.conditions[condition].targets:
            try:
                aims.append(self._aim(name, condition))
            except Unscored as refusal:
                if refusal.reason.code is not Code.NO_TARGET:
                    raise
                gone.append(refusal)
        if gone and not aims:
            raise gone[0]
        return aims

    def _aim(self, name: str, condition: ConditionName) -> Aim:
        settings = self._snapshot.loaded.settings
        file = settings.targets[name]
        least_share = file.least_share if file.least_share is not None else settings.measurements.least_share
        return Aim(
            self._targets.target(name, file),
            limits_for(settings, name, str(condition)),
            least_share,
            self._snapshot.reckoning(name, condition.printer),
        )

    def _rivals(self, condition: ConditionName) -> Iterator[Target]:
        """The targets of the other conditions of this printer, those that can be read."""
        own = self._snapshot.conditions[condition].targets
        for name, stock in self._snapshot.targets_of_printer(condition.printer).items():
            if name not in own:
                try:
                    target = self._targets.target(name, self._snapshot.loaded.settings.targets[name])
                except Unscored:
                    continue  # told where that target is the aim
                yield replace(target, stock=stock)
