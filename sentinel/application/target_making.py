"""The two ways to a new version of a kept target: from a file, or adopted from recorded checks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, cast

import numpy as np

from sentinel.application.sources import archived_readings, file_bytes, recorded_check
from sentinel.core.colour.bands import SpectrumError
from sentinel.core.colour.difference import de00
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.measurement import Backing, MCondition, Measurement, MeasurementCondition
from sentinel.core.scoring.adoption import ADOPTED_FROM, RULE, Adopted, adopt, adopted_file
from sentinel.core.scoring.agreement import comparable
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.score import Target, target_from
from sentinel.core.scoring.target_versions import KeptTarget
from sentinel.core.verdict import Unscored, Verdict
from sentinel.errors import AdminError
from sentinel.ports import Archive, Files, Reading, ReadSession
from sentinel.settings.models import Settings


@dataclass(frozen=True, slots=True)
class FromFile:
    """A target from published data or a measured reference; `source` says where the file is from."""

    name: str
    file: Path
    by: str
    source: str | None = None


@dataclass(frozen=True, slots=True)
class FromChecks:
    """A target adopted from recorded checks, or their mean, that a second person approved.

    `reference` is published data to tell the aim's distance from; `even_failed` adopts checks that failed, too.
    """

    name: str
    checks: Sequence[int]
    by: str
    approved_by: str
    reference: Path | None = None
    even_failed: bool = False


@dataclass(frozen=True, slots=True)
class TargetMaking:
    """Makes new versions as the service will understand them, their bytes in the archive."""

    settings: Settings
    archive: Archive
    files: Files
    now: datetime

    def from_file(self, wanted: FromFile) -> KeptTarget:
        """Raises AdminError where the file cannot be had or cannot serve as a target."""
        data = file_bytes(self.files, wanted.file, self.settings.folders.largest_mb, "a target file")
        target = self._usable(wanted.name, data)
        return KeptTarget(
            name=wanted.name,
            sha256=self._keep(data),
            source=wanted.source or f"file {wanted.file.name}",
            added_by=wanted.by,
            approved_by=None,
            added_at=self.now,
            facts={"file": wanted.file.name, **_facts_of(target)},
        )

    def from_checks(self, wanted: FromChecks, reading: Reading) -> KeptTarget:
        """Nothing is written before all of it is known to be of use. Raises AdminError where it is not."""
        if wanted.approved_by.casefold() == wanted.by.casefold():
            raise AdminError(f"expected a second person after --approved-by, got {wanted.by!r} twice")
        checks = _checks(reading(), wanted)
        samples = [archived_readings(self.archive, each) for each in checks]
        try:
            adopted = adopt(samples)
        except (Unscored, SpectrumError) as refusal:
            raise AdminError(f"the checks cannot be adopted: {refusal}") from None
        source = f"{_numbers(checks)} of {checks[0].condition}"
        data = self._file(wanted, adopted, checks, samples, source)
        target = self._usable(wanted.name, data)
        reference = self._reference(wanted.reference, target)
        return KeptTarget(
            name=wanted.name,
            sha256=self._keep(data),
            source=source,
            added_by=wanted.by,
            approved_by=wanted.approved_by,
            added_at=self.now,
            facts={**_facts_of(target), **_facts_of_checks(checks, samples, adopted), "reference": reference},
        )

    def _file(
        self,
        wanted: FromChecks,
        adopted: Adopted,
        checks: Sequence[RecordedCheck],
        samples: Sequence[Measurement],
        source: str,
    ) -> bytes:
        keywords = {
            "ORIGINATOR": wanted.by,
            "DESCRIPTOR": f"aim {wanted.name}, adopted from {source}",
            "CREATED": self.now.isoformat(timespec="seconds"),
            "APPROVED_BY": wanted.approved_by,
            ADOPTED_FROM: "; ".join(f"{each.seq}: sha256 {each.sha256} table {each.table}" for each in checks),
            "ADOPTED_WITHOUT": RULE if len(checks) > 1 else "nothing: one check",
            "SPREAD": "MEAN_DE and MAX_DE are CIEDE2000 differences of a patch's readings from their mean",
        }
        try:
            return adopted_file(adopted, samples, _read_under(checks, samples), keywords)
        except ValueError as fault:
            raise AdminError(f"the checks cannot be adopted: {fault}") from None

    def _reference(self, file: Path | None, target: Target) -> Mapping[str, Any] | None:
        """How far the aim is from published data; None where none was given."""
        if file is None:
            return None
        data = file_bytes(self.files, file, self.settings.folders.largest_mb, "a target file")
        try:
            reference = target_from(data, str(file), 1, "ink-space", MeasurementCondition())
            comparable(reference.condition, target.condition, unknown_m_scored=True)
            pairs = match(reference.measurement, target.measurement)
        except (Unscored, SpectrumError) as refusal:
            raise AdminError(f"the aim cannot be held against the reference {file}: {refusal}") from None
        away = de00(pairs.aim, pairs.lab)
        return {
            "file": file.name,
            "sha256": self._keep(data),
            "patches": len(pairs),
            "de00_mean": float(away.mean()),
            "de00_p95": float(np.percentile(away, 95)),
            "de00_max": float(away.max()),
        }

    def _keep(self, data: bytes) -> str:
        try:
            return self.archive.keep(data)
        except OSError as fault:
            raise AdminError(
                f"expected an archive that takes files, got: {fault.strerror} ({fault.filename})"
            ) from None

    def _usable(self, name: str, data: bytes) -> Target:
        """The bytes understood as the service will. Raises AdminError, with the reason, where they cannot be."""
        place = self.settings.targets.get(name)
        declared = MeasurementCondition(place.m_condition, place.backing) if place else MeasurementCondition()
        try:
            return target_from(data, name, place.table if place else 1, "ink-space", declared)
        except Unscored as refusal:
            raise AdminError(str(refusal.reason.message)) from None


def _facts_of(target: Target) -> dict[str, Any]:
    held = target.measurement
    quantity = "reflectance" if held.reflectance is not None else "Lab" if held.lab is not None else "XYZ"
    return {
        "patches": len(held.chart.ids),
        "quantity": quantity,
        "m_condition": held.condition.m,
        "backing": held.condition.backing,
    }


def _checks(records: ReadSession, wanted: FromChecks) -> list[RecordedCheck]:
    """The recorded checks, of one condition and one way of measuring. Raises AdminError where they are not."""
    numbers = wanted.checks
    if len(set(numbers)) < len(numbers):
        raise AdminError(f"expected each check once, got {', '.join(map(str, numbers))}")
    checks = [recorded_check(records, number) for number in numbers]
    for each in checks:
        if records.checks.is_countered(each.seq):
            raise AdminError(f"expected checks that count, got {each.seq}, which was voided or superseded")
        if each.verdict is Verdict.UNSCORED:
            raise AdminError(f"expected checks with a verdict, got {each.seq}, whose stock or patch order is in doubt")
        if each.verdict is Verdict.FAIL and not wanted.even_failed:
            raise AdminError(
                f"expected checks that did not fail, got {each.seq}, which did; --even-failed adopts it all the same"
            )
    _alike("printing condition", [(each.seq, each.condition) for each in checks])
    _alike("measurement condition", [(each.seq, each.m_condition) for each in checks])
    _alike("backing", [(each.seq, each.backing) for each in checks])
    return checks


def _alike(what: str, found: Sequence[tuple[int, str | None]]) -> None:
    if len({value for _, value in found}) > 1:
        told = ", ".join(f"check {seq} {value or 'not told'}" for seq, value in found)
        raise AdminError(f"expected checks of one {what}, got {told}")


def _read_under(checks: Sequence[RecordedCheck], samples: Sequence[Measurement]) -> MeasurementCondition:
    """What all were read under: of M condition and backing as recorded, of the rest where all files say the same."""
    conditions = [each.condition for each in samples]
    filters, geometries = {each.filter for each in conditions}, {each.geometry for each in conditions}
    return MeasurementCondition(
        m=cast("MCondition | None", checks[0].m_condition),
        backing=cast("Backing | None", checks[0].backing),
        filter=filters.pop() if len(filters) == 1 else None,
        geometry=geometries.pop() if len(geometries) == 1 else None,
    )


def _facts_of_checks(
    checks: Sequence[RecordedCheck], samples: Sequence[Measurement], adopted: Adopted
) -> dict[str, Any]:
    labels = adopted.chart.names or adopted.chart.ids
    worst = int(np.argmax(adopted.max_de00))
    spread = {
        "de00_mean": float(np.average(adopted.mean_de00, weights=adopted.readings)),
        "de00_max": float(adopted.max_de00[worst]),
        "patch": labels[worst],
    }
    rejected = [{"check": checks[one.sample].seq, "patch": one.label, "de00": one.de00} for one in adopted.rejected]
    return {
        "condition": checks[0].condition,
        "checks": [
            {"check": each.seq, "sha256": each.sha256, "table": each.table, "verdict": each.verdict.value}
            for each in checks
        ],
        "instruments": sorted({sample.serial for sample in samples if sample.serial}),
        "spread": spread if len(checks) > 1 else None,
        "rejected": rejected,
        "missing": adopted.missing,
        "unread": list(adopted.unread),
    }


def _numbers(checks: Sequence[RecordedCheck]) -> str:
    numbers = [str(each.seq) for each in checks]
    return f"check {numbers[0]}" if len(numbers) == 1 else f"mean of checks {', '.join(numbers)}"
