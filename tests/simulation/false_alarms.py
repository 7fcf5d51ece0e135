"""False alarms of a printer whose hundreds of series stay where they are."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sentinel.core.drift.assess import watch
from sentinel.core.drift.control_limits import QUARTERS, limits_for
from sentinel.core.drift.report import Corridor, Series
from sentinel.core.drift.rules import DriftSettings, WatchDesign
from tests.simulation.plans import SETTINGS
from tests.simulation.simulator import FloatArray
from tests.support.amount import amount

SEED = 20_262
PRINTERS = amount(8, long=250)
WATCH = WatchDesign(
    series=300,
    checks_per_quarter=13,
    baseline_readings=20,
    sigma_known=True,
    autocorrelation=0.3,
    false_alarms=1.0,
)


@dataclass(frozen=True, slots=True)
class FalseAlarms:
    """A printer's mean by quarter after the baseline: series that alarm first, and checks at which any does."""

    alarms: tuple[float, ...]
    occasions: tuple[float, ...]


def false_alarms(watched: WatchDesign, between: float) -> FalseAlarms:
    """Of printers whose series correlate `between` one another at each check, and in time as `watched` says."""
    rng = np.random.default_rng(SEED)
    settings = replace(
        SETTINGS,
        baseline_readings=watched.baseline_readings,
        least_sigma=1e-6,
        chart_limits=limits_for(watched, SETTINGS.ewma_weight, SETTINGS.cusum_slack),
    )
    alarms, occasions = np.zeros((2, QUARTERS))
    for _ in range(PRINTERS):
        first = _first_alarms(rng, watched, between, settings)
        alarms += np.bincount(first // watched.checks_per_quarter, minlength=QUARTERS)
        occasions += np.bincount(np.unique(first) // watched.checks_per_quarter, minlength=QUARTERS)
    return FalseAlarms(tuple((alarms / PRINTERS).tolist()), tuple((occasions / PRINTERS).tolist()))


def _first_alarms(
    rng: np.random.Generator, watched: WatchDesign, between: float, settings: DriftSettings
) -> npt.NDArray[np.intp]:
    """Which check behind the baseline each series that alarms does so at first."""
    sigma: FloatArray = rng.uniform(0.1, 0.6, (watched.series, 1))
    values: FloatArray = rng.normal(0, 1, (watched.series, 1)) + sigma * _readings(rng, watched, between)
    times = np.arange(0.0, 7.0 * values.shape[1], 7.0)
    series = [
        Series(times, row, Corridor(-np.inf, np.inf), sigma=float(own) if watched.sigma_known else None)
        for row, own in zip(values, sigma[:, 0], strict=True)
    ]
    seen = watch(series, [0] * len(series), settings)
    firsts = [min(alarm.reading for alarm in one.alarms) for one in seen if one.alarms]
    return np.array(firsts, np.intp) - watched.baseline_readings


def _readings(rng: np.random.Generator, watched: WatchDesign, between: float) -> FloatArray:
    checks = watched.baseline_readings + QUARTERS * watched.checks_per_quarter
    own, shared = rng.standard_normal((watched.series, checks)), rng.standard_normal((1, checks))
    new: FloatArray = np.sqrt(between) * shared + np.sqrt(1 - between) * own
    kept = watched.autocorrelation
    readings = new.copy()
    for check in range(1, checks):
        readings[:, check] = kept * readings[:, check - 1] + np.sqrt(1 - kept**2) * new[:, check]
    return readings
