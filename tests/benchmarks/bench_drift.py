"""Speed of the drift room. Run: python -m tests.benchmarks.bench_drift

Ratios come from one run, the best of five turns.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sentinel.core.drift.assess import assess_many
from sentinel.core.drift.control_limits import limits_for
from sentinel.core.drift.report import Corridor, Series
from sentinel.core.drift.rules import ChartLimits, DriftSettings, WatchDesign

TURNS = 5
SERIES, READINGS = 10_000, 20
SETTINGS = DriftSettings(
    baseline_readings=8,
    least_sigma=0.02,
    chart_limits=ChartLimits(individuals=4.1, ewma=4.6, cusum=16.7),
    ewma_weight=0.2,
    cusum_slack=0.5,
    western_electric=True,
    least_readings=8,
    step_evidence=6.0,
    trend_confidence=0.95,
    days_outside=0.3,
    horizon=60.0,
)


def main() -> None:
    rng = np.random.default_rng(2026)
    times = np.cumsum(rng.gamma(2, 2.5, (SERIES, READINGS)), axis=1)
    values = rng.uniform(-0.02, 0.02, (SERIES, 1)) * times + rng.normal(0, 0.25, times.shape)
    series = [Series(*both, Corridor(-2.0, 2.0)) for both in zip(times, values, strict=True)]
    no_baselines = replace(SETTINGS, baseline_readings=READINGS + 1)

    everything = _best(lambda: assess_many(series, SETTINGS))
    forecasts = _best(lambda: assess_many(series, no_baselines))
    alone = _best(lambda: [_alone(one) for one in series[:100]]) * SERIES / 100
    _say(f"{SERIES} series of {READINGS} readings, forecasts alone: {forecasts:.2f} s (wanted: about 1)")
    _say(f"the same with charts: {everything:.2f} s, one call a series instead: {alone / everything:.0f} times as long")
    _say(f"limits for 300 series: {_best(_limits):.2f} s")


def _alone(one: Series) -> object:
    return assess_many([one], SETTINGS)


def _limits() -> object:
    limits_for.cache_clear()
    return limits_for(WatchDesign(300, 13, 20, sigma_known=True, autocorrelation=0.3, false_alarms=1.0), 0.2, 0.5)


def _best(work: Callable[[], object]) -> float:
    """The shortest of the turns in seconds."""
    taken = []
    for _ in range(TURNS):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return min(taken)


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main()
