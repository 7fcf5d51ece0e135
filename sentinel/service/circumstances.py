"""What is on record around a check: when its chart was printed, whether the lot is new, the instrument elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sentinel.core.cgats.measurement import Measurement
from sentinel.core.condition import ConditionName
from sentinel.core.diagnosis.elsewhere import moved_alike
from sentinel.core.diagnosis.subject import Context
from sentinel.core.events import EventKind
from sentinel.core.measured_time import measured_at
from sentinel.core.scoring.score import Score
from sentinel.service.ports import Store
from sentinel.service.situations import touches
from sentinel.settings.snapshot import Snapshot

LONGEST_DRYING = timedelta(days=14)
"""A chart printed earlier is hardly the one that was read: people forget to tell of the next."""
SAME_TIME = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Circumstances:
    """Of a file written at `file_time` that came `now`."""

    store: Store
    snapshot: Snapshot
    file_time: datetime
    now: datetime

    def of(self, condition: ConditionName, measurement: Measurement, score: Score) -> Context:
        """What a diagnosis may take into account. Raises PassingError where the store would not answer."""
        settings = self.snapshot.loaded.settings
        trusted = timedelta(days=settings.measurements.trust_created_days)
        at = measured_at(measurement.created, self.file_time, self.now, settings.site.zone, trusted).at
        with self.store.transaction() as unit:
            events = unit.events({condition.printer}, at - LONGEST_DRYING)
            last = unit.latest_checks([str(condition)]).get(str(condition), [])
            readings = (
                unit.lightness_by(measurement.serial, str(condition), at, SAME_TIME) if measurement.serial else []
            )
        own = [event for event in events if touches(event, condition) and event.at <= at]
        printed = [event.at for event in own if event.kind is EventKind.CHART_PRINTED]
        lots = [event.at for event in own if event.kind is EventKind.STOCK_LOT]
        checked = max((check.measured_at for check in last if check.measured_at < at), default=None)
        return Context(
            hours_since_print=(at - max(printed)) / timedelta(hours=1) if printed else None,
            drying_hours=self.snapshot.drying_hours(condition),
            new_lot=_new(lots, checked),
            moved_alike=moved_alike(str(condition), score.metrics["all"]["dl_mean"], readings, at, SAME_TIME),
        )


def _new(lots: Sequence[datetime], checked: datetime | None) -> bool | None:
    """Whether a lot was loaded since the last check; None where nobody told of any."""
    if not lots:
        return None
    return checked is None or max(lots) > checked
