from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.assess import assess_many
from sentinel.core.drift.charts import Sign
from sentinel.core.drift.report import ControlChart, Corridor, Series, SeriesReport, TrendOutlook
from sentinel.core.drift.rules import ChartLimits, DriftSettings

SETTINGS = DriftSettings(
    baseline_readings=8,
    least_sigma=0.02,
    chart_limits=ChartLimits(individuals=4.5, ewma=5.0, cusum=15.0),
    ewma_weight=0.2,
    cusum_slack=0.5,
    western_electric=True,
    least_readings=8,
    step_evidence=6.0,
    trend_confidence=0.95,
    days_outside=0.5,
    horizon=365.0,
)
BOUNDS = Corridor(-2.0, 2.0)
WEEKLY = np.arange(0.0, 140.0, 7.0)


def scatter(readings: int = 20, seed: int = 11) -> FloatArray:
    return np.random.default_rng(seed).normal(0, 0.15, readings)


def assess_series(
    times: FloatArray,
    values: FloatArray,
    bounds: Corridor,
    settings: DriftSettings,
    reset: float | None = None,
    baseline_window: tuple[float, float] | None = None,
    sigma: float | None = None,
) -> SeriesReport:
    [report] = assess_many([Series(times, values, bounds, reset, baseline_window, sigma)], settings)
    return report


def test_steady_series_shows_no_trend_no_alarm_and_no_expected_day() -> None:
    report = assess_series(WEEKLY, scatter(), BOUNDS, SETTINGS)
    assert (report.outlook, report.alarms) == (TrendOutlook.NO_TREND, ())
    assert report.forecast is not None
    assert report.forecast.upper is not None
    assert report.forecast.upper.expected is None
    assert report.forecast.upper.likely[1] is None


def test_worn_series_is_told_when_it_crosses_and_how_sure_that_is() -> None:
    report = assess_series(WEEKLY, 0.01 * WEEKLY + scatter(), BOUNDS, SETTINGS)
    forecast = report.forecast
    assert report.outlook is TrendOutlook.TREND
    assert forecast is not None
    assert forecast.upper is not None
    assert forecast.readings == 20
    assert forecast.slope == pytest.approx(0.01, abs=0.003)
    days = [
        forecast.day,
        forecast.upper.wide[0],
        forecast.upper.likely[0],
        forecast.upper.expected,
        forecast.upper.likely[1],
        forecast.upper.wide[1],
    ]
    known = [day for day in days if day is not None]
    assert len(known) == 6
    assert known == sorted(known)
    assert known[3] == pytest.approx(200, abs=25)
    assert forecast.check_by is not None
    assert forecast.day < forecast.check_by < known[3]


def test_interval_of_a_report_lies_about_the_line() -> None:
    forecast = assess_series(WEEKLY, 0.01 * WEEKLY + scatter(), BOUNDS, SETTINGS).forecast
    assert forecast is not None
    low, high = forecast.interval(forecast.day + 10, 0.9)
    assert low < forecast.level + 10 * forecast.slope < high
    assert high - low < 1.5


def test_too_few_readings_make_no_forecast_and_no_baseline() -> None:
    report = assess_series(WEEKLY[:7], scatter(7), BOUNDS, SETTINGS)
    assert (report.outlook, report.forecast, report.baseline) == (TrendOutlook.NO_FORECAST, None, None)


def test_series_without_a_reading_is_no_error() -> None:
    report = assess_series(np.array([]), np.array([]), BOUNDS, SETTINGS)
    assert (report.outlook, report.alarms) == (TrendOutlook.NO_FORECAST, ())


def test_readings_of_one_moment_make_no_forecast() -> None:
    assert assess_series(np.zeros(12), scatter(12), BOUNDS, SETTINGS).outlook is TrendOutlook.NO_FORECAST


def test_readings_before_the_reset_do_not_count() -> None:
    values = np.where(WEEKLY < 63, 5.0, 0.0) + scatter()
    report = assess_series(WEEKLY, values, BOUNDS, SETTINGS, reset=63.0)
    after = assess_series(WEEKLY[9:], values[9:], BOUNDS, SETTINGS)
    assert report.baseline == after.baseline
    assert report.forecast is not None
    assert after.forecast is not None
    assert report.forecast.slope == after.forecast.slope
    assert report.forecast.readings == after.forecast.readings == 11


def test_nothing_since_the_reset_makes_no_forecast() -> None:
    report = assess_series(WEEKLY, scatter(), BOUNDS, SETTINGS, reset=1000.0)
    assert (report.outlook, report.baseline) == (TrendOutlook.NO_FORECAST, None)


def test_forecast_starts_after_a_step_and_the_charts_alarm_at_it() -> None:
    values = np.where(np.arange(20) >= 10, 1.5, 0.0) + scatter()
    report = assess_series(WEEKLY, values, BOUNDS, SETTINGS)
    assert report.outlook is TrendOutlook.NO_TREND
    assert report.forecast is not None
    assert report.forecast.readings == 10
    alarm = next(alarm for alarm in report.alarms if alarm.chart is ControlChart.INDIVIDUALS)
    assert (alarm.side, alarm.reading, alarm.day, alarm.standing) == ("above", 10, 70.0, True)
    assert alarm.value > alarm.limit == 4.5


def test_step_of_the_last_days_makes_no_forecast() -> None:
    values = np.where(np.arange(20) >= 16, 1.5, 0.0) + scatter()
    report = assess_series(WEEKLY, values, BOUNDS, SETTINGS)
    assert (report.outlook, report.forecast) == (TrendOutlook.NO_FORECAST, None)


def test_alarm_that_is_over_no_longer_stands() -> None:
    values = scatter()
    values[12] = -3.0
    report = assess_series(WEEKLY, values, BOUNDS, SETTINGS)
    alarm = next(alarm for alarm in report.alarms if alarm.chart is ControlChart.INDIVIDUALS)
    assert (alarm.side, alarm.reading, alarm.standing) == ("below", 12, False)


def test_sign_is_of_the_last_reading_and_can_be_turned_off() -> None:
    values = scatter()
    values[[12, 19]] = -1.0
    report = assess_series(WEEKLY, values, BOUNDS, SETTINGS)
    assert Sign(1, 19, "below") in report.signs
    assert all(sign.reading == 19 for sign in report.signs)
    assert assess_series(WEEKLY, values, BOUNDS, replace(SETTINGS, western_electric=False)).signs == ()


def test_infinite_limit_turns_a_chart_off() -> None:
    values = np.where(np.arange(20) >= 10, 1.5, 0.0) + scatter()
    off = replace(SETTINGS, chart_limits=ChartLimits(np.inf, np.inf, np.inf))
    assert assess_series(WEEKLY, values, BOUNDS, off).alarms == ()


def test_declared_window_is_the_baseline_and_the_charts_go_on_behind_it() -> None:
    values = scatter()
    report = assess_series(WEEKLY, values, BOUNDS, SETTINGS, baseline_window=(14.0, 84.0))
    assert report.baseline is not None
    assert report.baseline.readings == 11
    assert report.baseline.centre == pytest.approx(values[2:13].mean())
    short = assess_series(WEEKLY, values, BOUNDS, SETTINGS, baseline_window=(14.0, 35.0))
    assert short.baseline is None


def test_known_sigma_takes_the_place_of_the_baselines_own() -> None:
    report = assess_series(WEEKLY, scatter(), BOUNDS, SETTINGS, sigma=0.4)
    assert report.baseline is not None
    assert report.baseline.sigma == 0.4


def test_limit_that_is_not_there_is_never_crossed() -> None:
    forecast = assess_series(WEEKLY, 0.01 * WEEKLY + scatter(), Corridor(-np.inf, 2.0), SETTINGS).forecast
    assert forecast is not None
    assert forecast.lower is None
    assert forecast.upper is not None


def test_many_series_are_assessed_as_each_alone_in_their_order() -> None:
    lengths = (20, 5, 0, 14, 9)
    series = [Series(WEEKLY[:n], 0.01 * WEEKLY[:n] + scatter(n, seed=n), BOUNDS) for n in lengths]
    together = assess_many(series, SETTINGS)
    for one, report in zip(series, together, strict=True):
        alone = assess_series(one.times, one.values, BOUNDS, SETTINGS)
        assert (report.outlook, report.alarms, report.baseline) == (alone.outlook, alone.alarms, alone.baseline)
        if report.forecast and alone.forecast:
            assert report.forecast.slope == pytest.approx(alone.forecast.slope)
            assert report.forecast.check_by == alone.forecast.check_by


@pytest.mark.parametrize(
    ("times", "values", "message"),
    [
        ([0.0, 2.0, 1.0], [1.0, 1.0, 1.0], "series 1: expected readings in the order of their times"),
        ([0.0, 1.0], [1.0, np.nan], "series 1: expected finite times and values"),
        ([0.0, 1.0], [1.0], "series 1: expected a value for each time"),
    ],
)
def test_series_that_is_none_is_refused_by_its_place(times: list[float], values: list[float], message: str) -> None:
    good = Series(WEEKLY, scatter(), BOUNDS)
    with pytest.raises(ValueError, match=message):
        assess_many([good, Series(np.array(times), np.array(values), BOUNDS)], SETTINGS)


def test_wholly_equal_readings_are_a_steady_series() -> None:
    report = assess_series(WEEKLY, np.full(20, 0.3), BOUNDS, SETTINGS)
    assert (report.outlook, report.alarms) == (TrendOutlook.NO_TREND, ())
    assert report.forecast is not None
    assert report.forecast.level == pytest.approx(0.3)
