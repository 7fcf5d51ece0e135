"""The rules that make a check due, each with its switch, and how drift is watched."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import Annotated, Literal

from pydantic import Field

from sentinel.core.cases.notice_policy import UrgencyRules
from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.due import Climate, DueRules
from sentinel.core.conditions.events import ANOTHER_PRINT, EventKind
from sentinel.core.conditions.risk import SHARES
from sentinel.core.drift.rules import ChartLimits, DriftPolicy, DriftRules, DriftSettings, WatchDesign
from sentinel.settings.base import Days, Positive, TomlTable

Kinds = Annotated[tuple[Annotated[EventKind, Field(strict=False)], ...], Field(strict=False)]
Range = Annotated[tuple[float, float], Field(strict=False)]

AFTER = (
    EventKind.RECALIBRATION,
    EventKind.SERVICE,
    EventKind.PROFILE,
    EventKind.PRINT_SETTINGS,
    EventKind.STOCK_LOT,
    EventKind.INK_LOT,
)


class DueHere(TomlTable):
    """What one printing condition has otherwise; a key that is left out is that of [due]."""

    max_age_days: Days | None = None
    """A check is due when the last one is older than this."""
    warned_share: Annotated[float, Field(gt=0, le=1)] | None = None
    """After a warning a check is due after this share of that age, in whole days; 1 switches the rule off."""
    by: Literal["age", "risk"] | None = None
    """What calls for checks: the age of the last one, or how likely the print is out of tolerance, by all that was read
    of the printer. `risk` takes the place of `max_age_days`, `learning_days` and `forecast` as soon as there is an
    outlook."""
    risk: Literal["careful", "normal", "lean"] | None = None
    """How likely that may become: 1 in 16, 1 in 8, 1 in 5."""
    fixed_days: Days | None = None
    """A check is due when the last one is older than this, whatever else calls for it, as a customer was promised."""
    working_days_only: bool | None = None
    """Whether that age counts working days alone."""
    warned_times: Annotated[int, Field(ge=0, le=20)] | None = None
    """A check is due after so many warnings in a row; 0 switches the rule off."""
    after: Kinds | None = None
    """A check is due after events of these kinds; an empty list switches the rule off."""
    never_run_after: Kinds | None = None
    """Checks before an event of these kinds no longer count: the condition is never-run."""
    square_metres: Positive | None = None
    """A check is due after so much was reported as printed."""
    standstill_days: Days | None = None
    """A check is due when the printer prints again after standing still for this long."""
    celsius: Range | None = None
    """The room's temperature, lowest and highest; outside it a check is due."""
    percent_humidity: Range | None = None
    """The room's relative humidity, lowest and highest; outside it a check is due."""
    target_changed: bool | None = None
    """Whether a check is due when the target is another one than the last check was scored against."""
    limits_changed: bool | None = None
    """Whether a check is due when other limits hold than the last check was scored with."""
    forecast: bool | None = None
    """Whether a check is due before a figure is expected to leave its limits; [drift] says how that is forecast."""
    lead_days: Annotated[float, Field(ge=0, le=365)] | None = None
    """How long before."""
    learning_days: Days | None = None
    """While nothing can be forecast a check is due when the last one is older than this, if that is less than
    `max_age_days`."""
    drift: bool | None = None
    """Whether a check is due when a drift chart shows for the first time that a figure left its baseline."""


class DueTable(DueHere):
    """The rules of every printing condition."""

    max_age_days: Days | None = 7.0
    warned_share: Annotated[float, Field(gt=0, le=1)] | None = 0.33
    by: Literal["age", "risk"] | None = "age"
    risk: Literal["careful", "normal", "lean"] | None = "normal"
    working_days_only: bool | None = False
    warned_times: Annotated[int, Field(ge=0, le=20)] | None = 0
    after: Kinds | None = AFTER
    never_run_after: Kinds | None = (EventKind.HEADS, EventKind.INK_SET)
    target_changed: bool | None = True
    limits_changed: bool | None = False
    forecast: bool | None = True
    lead_days: Annotated[float, Field(ge=0, le=365)] | None = 1.0
    learning_days: Days | None = 7.0
    drift: bool | None = True
    confirm_first: bool = True
    """Whether a first failure asks to be confirmed before it raises the alarm."""
    gross_factor: Annotated[float, Field(ge=1)] = 2.0
    """A figure beyond this many times its action limit is urgent at once."""

    @property
    def urgency(self) -> UrgencyRules:
        """For the core."""
        return UrgencyRules(self.confirm_first, self.gross_factor)

    def rules(self, calendar: Calendar, resets: frozenset[EventKind]) -> DueRules:
        """For the core; `calendar` is that of the site, `resets` are those of [drift]."""
        climate = Climate(self.celsius, self.percent_humidity) if self.celsius or self.percent_humidity else None
        return DueRules(
            max_age=_span(self.max_age_days),
            calendar=calendar if self.working_days_only else Calendar(),
            fixed=_span(self.fixed_days),
            risk=SHARES[self.risk or "normal"] if self.by == "risk" else None,
            warned_share=None if self.warned_share == 1 else self.warned_share,
            warned_times=self.warned_times or None,
            after=frozenset(self.after or ()),
            never_run_after=frozenset(self.never_run_after or ()),
            square_metres=self.square_metres,
            standstill=_span(self.standstill_days),
            climate=climate,
            target_changed=bool(self.target_changed),
            limits_changed=bool(self.limits_changed),
            lead=timedelta(days=self.lead_days or 0.0) if self.forecast else None,
            learning=_span(self.learning_days) if self.forecast and self.max_age_days is not None else None,
            drift=bool(self.drift),
            resets=resets,
            site=calendar,
        )


def _span(days: float | None) -> timedelta | None:
    return None if days is None else timedelta(days=days)


def overlaid(rules: DueTable, own: DueHere, max_age_days: float | None = None) -> DueTable:
    """The rules with what one condition has otherwise laid over them, and its age over that."""
    age = {} if max_age_days is None else {"max_age_days": max_age_days}
    return rules.model_copy(update={name: getattr(own, name) for name in own.model_fields_set} | age)


_Count = Annotated[int, Field(ge=5, le=200)]
_Confidence = Annotated[float, Field(gt=0.5, lt=1)]


class DriftTable(TomlTable):
    reset_after: Kinds = ANOTHER_PRINT
    """Events after which readings begin anew, and with them baseline and forecast."""
    bridge_days: Annotated[float, Field(ge=0, le=365)] = 3.0
    """Two checks at most this far apart, before and after another lot of the stock, carry the baseline over to it."""
    most_readings: _Count = 60
    """So many of the last checks are looked at."""
    baseline_readings: _Count = 12
    """The first readings after a reset that say where a figure stands; more make the charts sharper, 20 is better."""
    least_scatter: Positive = 0.05
    """The smallest scatter of a figure that is believed, in its unit, as the instrument's repeatability; of a density
    a twenty-fifth of it."""
    false_alarms_per_quarter: Annotated[float, Field(ge=0.1, le=10)] = 1.0
    """How many false alarms of all charts of a printer together are put up with; the charts' limits follow from it.
    For one chart alone (known centre and scatter) the published average run lengths between false alarms are:
    individuals at 3 sigma 370; EWMA of weight 0.2 at 2.962 sigma 500; CUSUM of slack 0.5 at 5 sigma 465."""
    checks_per_quarter: Annotated[int, Field(ge=1, le=100)] = 13
    """How often a condition is checked, for those limits."""
    autocorrelation: Annotated[float, Field(ge=0, lt=0.9)] = 0.3
    """How much neighbouring readings of a steady figure are alike, for those limits; 0 would promise too much."""
    ewma_weight: Annotated[float, Field(gt=0, le=1)] = 0.2
    """The new reading's share in the moving average. At 2.962 sigma it sees a shift of 1 sigma after 10.5 readings."""
    cusum_slack: Annotated[float, Field(ge=0, le=3)] = 0.5
    """Half the shift that matters, in sigmas. At 5 sigma it sees a shift of 1 sigma after 10.4 readings."""
    western_electric: bool = True
    """Whether `explain` shows the Western Electric rules met; together they give a false sign each 92 readings."""
    least_readings: _Count = 8
    """No forecast is made from fewer readings."""
    step_evidence: Positive = 6.0
    """How much better a step must explain the readings than a line before it is believed, in BIC."""
    trend_confidence: _Confidence = 0.95
    """How sure it must be that a condition has any trend."""
    days_outside: Annotated[float, Field(gt=0, le=10)] = 0.3
    """A check is wanted before a figure is expected to have been outside its limits for so many days."""
    horizon_days: Annotated[Days, Field(ge=7, le=365)] = 60.0
    """Nothing is forecast beyond."""

    @property
    def policy(self) -> DriftPolicy:
        """For the core."""
        settings = DriftSettings(
            baseline_readings=self.baseline_readings,
            least_sigma=self.least_scatter,
            chart_limits=ChartLimits(math.inf, math.inf, math.inf),
            ewma_weight=self.ewma_weight,
            cusum_slack=self.cusum_slack,
            western_electric=self.western_electric,
            least_readings=self.least_readings,
            step_evidence=self.step_evidence,
            trend_confidence=self.trend_confidence,
            days_outside=self.days_outside,
            horizon=self.horizon_days,
        )
        watch = WatchDesign(
            series=2,
            checks_per_quarter=self.checks_per_quarter,
            baseline_readings=self.baseline_readings,
            sigma_known=False,
            autocorrelation=self.autocorrelation,
            false_alarms=self.false_alarms_per_quarter,
        )
        return DriftPolicy(
            rules=DriftRules(settings, watch),
            resets=frozenset(self.reset_after),
            bridge=timedelta(days=self.bridge_days),
            most_readings=self.most_readings,
            mark=self.model_dump_json(),
        )
