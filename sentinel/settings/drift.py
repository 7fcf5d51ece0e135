"""How drift is watched: control charts and forecasts."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sentinel.core.events import EventKind
from sentinel.settings.base import Days, Part, Positive
from sentinel.settings.due import Kinds

RESETS = (
    EventKind.HEADS,
    EventKind.INK_SET,
    EventKind.SERVICE,
    EventKind.RECALIBRATION,
    EventKind.PROFILE,
    EventKind.PRINT_SETTINGS,
)
_Count = Annotated[int, Field(ge=5, le=200)]
_Confidence = Annotated[float, Field(gt=0.5, lt=1)]


class Drift(Part):
    reset_after: Kinds = RESETS
    """Events after which readings begin anew, and with them baseline and forecast."""
    bridge_days: Annotated[float, Field(ge=0, le=365)] = 3.0
    """Two checks at most this far apart, before and after another lot of the stock, carry the baseline over to it."""
    most_readings: _Count = 60
    """So many of the last checks are looked at."""
    baseline_readings: _Count = 12
    """The first readings after a reset that say where a figure stands; more make the charts sharper, 20 is better."""
    least_scatter: Positive = 0.05
    """The smallest scatter of a figure that is believed, in its unit, as the instrument's repeatability."""
    false_alarms_per_quarter: Annotated[float, Field(ge=0.1, le=10)] = 1.0
    """How many false alarms of all charts of a printer together are put up with; the charts' limits follow from it.
    For one chart alone (known centre and scatter) the published average run lengths between false alarms are:
    individuals at 3 sigma 370; EWMA of weight 0.2 at 2.962 sigma 500; CUSUM of slack 0.5 at 5 sigma 465."""
    checks_per_quarter: Annotated[int, Field(ge=1, le=100)] = 13
    """How often a condition is checked, for those limits."""
    autocorrelation: Annotated[float, Field(ge=0, lt=0.9)] = 0.3
    """How much neighbouring readings of a steady figure are alike, for those limits; 0 would promise too much."""
    ewma_weight: Annotated[float, Field(gt=0, le=1)] = 0.2
    """The new reading's share in the moving average. At 2.962 sigma it sees a shift of 1 sigma after 10.8 readings."""
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
    """Nothing is foretold beyond."""
