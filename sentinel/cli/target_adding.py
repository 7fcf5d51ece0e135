"""The two ways to a new version of a kept target: from a file, or adopted from recorded checks."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, cast

import numpy as np

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.store.sessions import ReadSession
from sentinel.cli.sources import archived, file_bytes, recorded_check
from sentinel.core.colour.bands import SpectrumError
from sentinel.core.colour.difference import de00
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.measurement import Backing, MCondition, Measurement, MeasurementCondition
from sentinel.core.scoring.adoption import RULE, Adopted, adopt, adopted_file
from sentinel.core.scoring.matching import comparable, match
from sentinel.core.scoring.score import Target
from sentinel.core.scoring.target_versions import KeptTarget
from sentinel.core.scoring.targets import target_from
from sentinel.core.verdict import Unscored, Verdict
from sentinel.errors import AdminError
from sentinel.settings.models import Settings


def new_target(settings: Settings, options: argparse.Namespace, now: datetime) -> KeptTarget:
    """The target that the options of `target add` ask for, its bytes in the archive.

    Raises AdminError where the options do not fit together or what they name cannot serve as a target.
    """
    _fit(options)
    if options.file is not None:
        return _from_file(settings, options, now)
    return _Adoption(settings, options, now).target()


def _fit(options: argparse.Namespace) -> None:
    if (options.file is None) == (not options.from_check):
        raise AdminError("expected a FILE or --from-check, one of the two")
    if options.from_check:
        if options.source is not None:
            raise AdminError("expected --source with a FILE alone: an adopted target says itself where it is from")
        if options.approved_by is None:
            raise AdminError("expected a second person after --approved-by for a target adopted from checks, got none")
        if options.approved_by.casefold() == options.by.casefold():
            raise AdminError(f"expected a second person after --approved-by, got {options.by!r} twice")
    elif options.approved_by is not None or options.reference is not None or options.even_failed:
        raise AdminError("expected --approved-by, --reference and --even-failed with --from-check alone")


def _from_file(settings: Settings, options: argparse.Namespace, now: datetime) -> KeptTarget:
    data = file_bytes(options.file, settings.folders.largest_mb, "a target file")
    target = _usable(settings, options.name, data)
    return KeptTarget(
        name=options.name,
        sha256=_keep(Archive(settings.folders.archive), data),
        source=options.source or f"file {options.file.name}",
        added_by=options.by,
        approved_by=None,
        added_at=now,
        facts={"file": options.file.name, **_facts_of(target)},
    )


def _keep(archive: Archive, data: bytes) -> str:
    try:
        return archive.keep(data)
    except OSError as fault:
        raise AdminError(f"expected an archive that takes files, got: {fault.strerror} ({fault.filename})") from None


def _usable(settings: Settings, name: str, data: bytes) -> Target:
    """The bytes understood as the service will. Raises AdminError, with the reason, where they cannot be."""
    place = settings.targets.get(name)
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


class _Adoption:
    """A target made of recorded checks."""

    def __init__(self, settings: Settings, options: argparse.Namespace, now: datetime) -> None:
        self._settings = settings
        self._options = options
        self._now = now
        self._archive = Archive(settings.folders.archive)

    def target(self) -> KeptTarget:
        """The target; nothing is written before all of it is known to be of use."""
        options = self._options
        checks = _checks(ReadSession(self._settings.store.path, self._settings.site.name), options)
        samples = [archived(self._archive, each.sha256, each.table, each.file_name) for each in checks]
        try:
            adopted = adopt(samples)
        except (Unscored, SpectrumError) as refusal:
            raise AdminError(f"the checks cannot be adopted: {refusal}") from None
        source = f"{_numbers(checks)} of {checks[0].condition}"
        data = self._file(adopted, checks, samples, source)
        target = _usable(self._settings, options.name, data)
        reference = self._reference(target)
        return KeptTarget(
            name=options.name,
            sha256=_keep(self._archive, data),
            source=source,
            added_by=options.by,
            approved_by=options.approved_by,
            added_at=self._now,
            facts={**_facts_of(target), **_facts_of_checks(checks, samples, adopted), "reference": reference},
        )

    def _file(
        self, adopted: Adopted, checks: Sequence[RecordedCheck], samples: Sequence[Measurement], source: str
    ) -> bytes:
        keywords = {
            "ORIGINATOR": self._options.by,
            "DESCRIPTOR": f"aim {self._options.name}, adopted from {source}",
            "CREATED": self._now.isoformat(timespec="seconds"),
            "APPROVED_BY": self._options.approved_by,
            "ADOPTED_FROM": "; ".join(f"{each.seq}: sha256 {each.sha256} table {each.table}" for each in checks),
            "ADOPTED_WITHOUT": RULE if len(checks) > 1 else "nothing: one check",
            "SPREAD": "MEAN_DE and MAX_DE are CIEDE2000 differences of a patch's readings from their mean",
        }
        try:
            return adopted_file(adopted, samples, _read_under(checks, samples), keywords)
        except ValueError as fault:
            raise AdminError(f"the checks cannot be adopted: {fault}") from None

    def _reference(self, target: Target) -> Mapping[str, Any] | None:
        """How far the aim is from published data; None where none was given."""
        file: Path | None = self._options.reference
        if file is None:
            return None
        data = file_bytes(file, self._settings.folders.largest_mb, "a target file")
        try:
            reference = target_from(data, str(file), 1, "ink-space", MeasurementCondition())
            comparable(reference.condition, target.condition, unknown_m_scored=True)
            pairs = match(reference.measurement, target.measurement)
        except (Unscored, SpectrumError) as refusal:
            raise AdminError(f"the aim cannot be held against the reference {file}: {refusal}") from None
        away = de00(pairs.aim, pairs.lab)
        return {
            "file": file.name,
            "sha256": _keep(self._archive, data),
            "patches": len(pairs),
            "de00_mean": float(away.mean()),
            "de00_p95": float(np.percentile(away, 95)),
            "de00_max": float(away.max()),
        }


def _checks(session: ReadSession, options: argparse.Namespace) -> list[RecordedCheck]:
    """The recorded checks, of one condition and one way of measuring. Raises AdminError where they are not."""
    numbers: list[int] = options.from_check
    if len(set(numbers)) < len(numbers):
        raise AdminError(f"expected each check once, got {', '.join(map(str, numbers))}")
    checks = [recorded_check(session, number) for number in numbers]
    for each in checks:
        if session.checks.is_countered(each.seq):
            raise AdminError(f"expected checks that count, got {each.seq}, which was voided or superseded")
        if each.verdict is Verdict.UNSCORED:
            raise AdminError(f"expected checks with a verdict, got {each.seq}, whose stock or patch order is in doubt")
        if each.verdict is Verdict.FAIL and not options.even_failed:
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
