"""From an assessment to the record that is kept of it."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from sentinel.core.assessment import Assessment
from sentinel.core.measured_time import measured_at
from sentinel.core.records import CheckRecord
from sentinel.core.scoring.score import RULES_VERSION
from sentinel.core.scoring.values import chart_record, packed
from sentinel.service.arrival import Arrival
from sentinel.settings.snapshot import Snapshot


def check_record(arrival: Arrival, assessment: Assessment, snapshot: Snapshot, now: datetime) -> CheckRecord:
    """The record of a judged assessment of a file that arrived at `now`."""
    measurement, score = assessment.measurement, assessment.score
    aim, match = score.aim, score.match
    if measurement is None or aim is None or match is None or arrival.sha256 is None:
        raise ValueError(f"expected a judged assessment of {arrival.file_name}, got one without a match")
    settings = snapshot.loaded.settings
    trusted = timedelta(days=settings.measurements.trust_created_days)
    measured = measured_at(measurement.created, arrival.file_time, now, settings.site.zone, trusted)
    day = measured.at.astimezone(settings.site.zone).date()
    remarks = (measured.remark, snapshot.certificate_remark(measurement.serial, day))
    score = score.noting(*(remark for remark in remarks if remark is not None))
    spectral = measurement.reflectance is not None
    return CheckRecord(
        sha256=arrival.sha256,
        table=measurement.table,
        condition=str(assessment.condition),
        file_name=arrival.file_name,
        verdict=score.verdict,
        reasons=score.reasons,
        metrics=score.metrics,
        measured_at=measured.at,
        arrived_at=now,
        target=aim.target.name,
        target_hash=aim.target.sha256,
        target_table=aim.target.measurement.table,
        limits=aim.limits,
        reckoning=aim.reckoning,
        recovered=score.recovered,
        diagnosis=[finding.as_json() for finding in assessment.diagnosis],
        rules_version=RULES_VERSION,
        instrument=measurement.serial,
        m_condition=assessment.read_under.m,
        backing=assessment.read_under.backing,
        illuminant="D50" if spectral else assessment.read_under.illuminant,
        observer=2 if spectral else assessment.read_under.observer,
        patches=len(measurement.chart.ids),
        matched=len(match),
        chart=chart_record(match),
        patch_values=packed(np.column_stack([match.lab, match.spread])),
    )
