"""How drift is looked for: what the print room decides about charts and forecasts. Light: no numpy."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

from sentinel.core.conditions.events import EventKind


@dataclass(frozen=True, slots=True)
class ChartLimits:
    """Limits of the three charts: in sigmas of a reading, in sigmas of the mean, in sigmas of a reading."""

    individuals: float
    ewma: float
    cusum: float


@dataclass(frozen=True, slots=True)
class WatchDesign:
    """What is watched: so many series together, each checked so often a quarter.

    `baseline_readings` gives the centre of each, and its sigma too unless `sigma_known` (one sigma pooled over many
    like series). `autocorrelation` is that of neighbouring readings of a steady series; 0 is not conservative.
    `false_alarms` is how many are put up with a quarter, over all series together.
    """

    series: int
    checks_per_quarter: int
    baseline_readings: int
    sigma_known: bool
    autocorrelation: float
    false_alarms: float


@dataclass(frozen=True, slots=True)
class DriftSettings:
    """How series are assessed.

    Run lengths of the charts' limits: `charts`; limits for many series: `control_limits.limits_for`. An infinite limit
    turns its chart off. `least_sigma`: `charts.baseline_of`. `step_evidence`: `steps.last_steps`. No forecast is made
    from fewer than `least_readings` (at least 5). There is a trend where the slope is not 0 with `trend_confidence`; at
    0.95 about one steady series in thirty shows one, one in ten where it wanders. A check is wanted before the level is
    expected to have been outside for `days_outside`, see `crossing.days_to_exposure`. Nothing is said of days more than
    `horizon` after the last reading.
    """

    baseline_readings: int
    least_sigma: float
    chart_limits: ChartLimits
    ewma_weight: float
    cusum_slack: float
    western_electric: bool
    least_readings: int
    step_evidence: float
    trend_confidence: float
    days_outside: float
    horizon: float


@dataclass(frozen=True, slots=True)
class DriftRules:
    """How forecasts are made.

    `drift` holds for one series; its chart limits are replaced by those for `watch`, whose number of series is that of
    the printer, and its confidence is shared out among the series of a condition, so that a condition without any
    trend shows one no more often than a single series would.
    """

    drift: DriftSettings
    watch: WatchDesign


@dataclass(frozen=True, slots=True)
class DriftPolicy:
    """What the settings decide of drift, for every printing condition.

    Readings begin anew after events of `resets`; two checks at most `bridge` apart carry a baseline over to another lot
    of the stock; so many as `most_readings` of the last checks are looked at. Equal policies have the same `mark`.
    """

    rules: DriftRules
    resets: frozenset[EventKind]
    bridge: timedelta
    most_readings: int
    mark: str


@dataclass(frozen=True, slots=True)
class DriftWatch:
    """What the watch over one printing condition must know of it.

    `neighbours` is how many conditions its printer has, this one included. `baseline` are the first and last day, in
    `zone`, of the checks that say where it stands; None: the first after a reset.
    """

    neighbours: int
    baseline: tuple[date, date] | None
    zone: tzinfo

    @property
    def baseline_window(self) -> tuple[datetime, datetime] | None:
        """The moments at which those days begin and end."""
        if self.baseline is None:
            return None
        first, last = self.baseline
        return datetime.combine(first, time.min, self.zone), datetime.combine(last, time.max, self.zone)
