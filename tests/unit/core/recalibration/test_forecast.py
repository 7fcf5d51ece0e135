"""The forecast: its bands, what it refuses, and what it is made with."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.colour.difference import de00
from sentinel.core.inks.ordinary import AS_EVERYWHERE, Factor, OrdinaryMovement, ShownMovement, Size
from sentinel.core.inks.readings import EXACT, Readings
from sentinel.core.recalibration.forecast import NoForecast, RecalibrationForecast, recalibration_forecast
from sentinel.core.recalibration.shrinkage import WHOLE_SHEET, figures_of, size_and_whole_share
from sentinel.core.scoring.metrics import lengths
from tests.unit.core.recalibration.prints import INKS, TERMS, chart, noisy, readings, usual

CHART = chart()
AIM = usual()


def checked(gain: float, seed: int = 1) -> Readings:
    chance = np.random.default_rng(seed)
    return readings(noisy(chance, AIM, CHART), noisy(chance, usual(gain=gain), CHART), CHART)


def foretold(given: Readings) -> RecalibrationForecast:
    found = recalibration_forecast(given, TERMS)
    assert isinstance(found, RecalibrationForecast)
    return found


def test_figures_now_are_those_of_scoring() -> None:
    given = checked(0.18)
    scored = lengths(["de00"], de00(given.aim, given.reading)[None])
    now = foretold(given).now
    assert (now.mean, now.p95, now.maximum) == pytest.approx(
        (scored["de00_mean"], scored["de00_p95"], scored["de00_max"]), rel=1e-12
    )


def test_wrong_tone_scales_are_expected_to_come_back_to_noise() -> None:
    found = foretold(checked(0.20))
    assert found.now.mean > 2.0
    assert found.mean.high < 1.2
    for band in (found.mean, found.p95, found.maximum):
        assert band.low < band.expected < band.high


def test_healthy_print_is_foretold_to_stay_about_as_it_is() -> None:
    found = foretold(checked(0.12))
    assert found.mean.low < 0.64 < found.mean.high  # two sheets of 0.45 each
    assert [part.what for part in found.remains] == ["paper", "overprints", "noise"]


def test_same_reading_has_the_same_forecast() -> None:
    assert foretold(checked(0.18)).as_json() == foretold(checked(0.18)).as_json()


def test_more_noise_of_sheets_is_foretold_as_larger_figures() -> None:
    found = []
    for size, limits in ((0.5, (0.2, 0.3)), (2.0, (0.8, 1.0))):
        chance = np.random.default_rng(1)
        aim, reading = (noisy(chance, each, CHART, size) for each in (AIM, usual(gain=0.18)))
        forecast = recalibration_forecast(readings(aim, reading, CHART), replace(TERMS, sheet_noise=limits))
        assert isinstance(forecast, RecalibrationForecast)
        found.append(forecast.mean)
    quiet, loud = found
    assert quiet.high < loud.low


def test_a_range_that_says_more_noise_than_the_reading_shows_moves_the_forecast_in_part() -> None:
    """The range of the settings is an expectation, which the scatter of this very comparison holds."""
    given = checked(0.18)
    quiet, usual_range, loud = (
        recalibration_forecast(given, replace(TERMS, sheet_noise=limits))
        for limits in ((0.2, 0.3), (0.3, 0.6), (0.8, 1.0))
    )
    assert isinstance(quiet, RecalibrationForecast)
    assert isinstance(usual_range, RecalibrationForecast)
    assert isinstance(loud, RecalibrationForecast)
    assert quiet.mean.high < loud.mean.expected
    assert quiet.mean.expected < loud.mean.low
    assert quiet.mean.expected < usual_range.mean.expected < loud.mean.expected
    assert loud.mean.expected / quiet.mean.expected < 0.9 / 0.25  # less than the ranges alone would have it


@pytest.mark.parametrize("seed", range(4))
def test_beside_an_exact_aim_less_is_foretold_than_beside_a_sheets_own_straying(seed: int) -> None:
    chance = np.random.default_rng(seed)
    reading = noisy(chance, usual(gain=0.18), CHART)
    exact, sheet = (readings(aim, reading, CHART) for aim in (AIM.spectra(CHART), noisy(chance, AIM, CHART)))
    without, with_it = (foretold(replace(each, aim_sheets=n)) for each, n in ((exact, EXACT), (sheet, 1.0)))
    assert without.mean.expected < 0.95 * with_it.mean.expected
    assert without.p95.expected < with_it.p95.expected


def test_the_same_scatter_foretells_the_same_mean_whoever_strayed_and_the_noise_told_is_that_of_reading_and_aim() -> (
    None
):
    """Beside an exact aim it is all the reading's, so that sheets stray more and nothing of it stays; beside a sheet's
    half its square is the aim's and stays. Together both come to the scatter that was seen."""
    chance = np.random.default_rng(8)
    given = readings(AIM.spectra(CHART), noisy(chance, usual(gain=0.18), CHART), CHART)
    exact, of_many, of_sheet = (foretold(replace(given, aim_sheets=sheets)) for sheets in (EXACT, 8.0, 1.0))
    assert of_many.mean.expected == pytest.approx(exact.mean.expected, rel=0.05)
    assert of_sheet.mean.expected == pytest.approx(exact.mean.expected, rel=0.05)
    noise = [next(part.de00 for part in each.remains if part.what == "noise") for each in (exact, of_sheet)]
    assert noise[1] > 1.1 * noise[0]


def test_pairs_that_showed_inks_to_move_more_or_less_than_everywhere_widen_and_narrow_the_bands() -> None:
    given = checked(0.18)
    widths = []
    for times in (0.4, 1.0, 3.0):
        of_inks = Size(float(np.log(times * 0.2)), 0.2)
        shown = ShownMovement(of_inks, of_inks, Size(-1.4, 0.2), AS_EVERYWHERE)
        found = recalibration_forecast(given, TERMS, OrdinaryMovement(shown=shown))
        assert isinstance(found, RecalibrationForecast)
        widths.append(found.mean.high - found.mean.low)
    assert widths[0] < widths[1] < widths[2]
    assert widths[2] > 2 * widths[0]


def test_houses_whose_inks_move_as_wholes_get_wider_bands_of_the_mean() -> None:
    given = checked(0.18)
    restless = OrdinaryMovement({Factor.STRENGTH: 4.0})
    found = recalibration_forecast(given, TERMS, restless)
    assert isinstance(found, RecalibrationForecast)
    plain = foretold(given)
    assert found.mean.high - found.mean.low > 1.3 * (plain.mean.high - plain.mean.low)


def test_the_share_of_whole_sheets_follows_what_was_learnt() -> None:
    assert size_and_whole_share(AS_EVERYWHERE) == pytest.approx((1.0, WHOLE_SHEET))
    size, share = size_and_whole_share(OrdinaryMovement({Factor.STRENGTH: 4.0}))
    assert size == pytest.approx(np.sqrt(4 * WHOLE_SHEET + 1 - WHOLE_SHEET))
    assert share == pytest.approx(4 * WHOLE_SHEET / size**2)
    size, share = size_and_whole_share(OrdinaryMovement(noise=2.0))
    assert share < WHOLE_SHEET


def test_ink_without_tone_scale_has_no_curve_and_is_named() -> None:
    black_alone = (CHART[:, 3] > 0) & (CHART[:, :3] == 0).all(axis=1) & (CHART[:, 3] < 100)
    device = CHART[~black_alone]
    found = foretold(readings(AIM.spectra(device), usual(gain=0.18).spectra(device), device))
    assert [curve.ink for curve in found.curves] == ["C", "M", "Y"]
    assert found.without_curve == ("K",)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"ink_space": False}, "through a profile"),
        ({"inks": ()}, "without any device values"),
        ({"inks": ("R", "G", "B")}, "R, G and B"),
        ({"device": CHART * 1.01}, "0 and 100 %"),
        ({"device": np.where(CHART == 40.0, np.nan, CHART)}, "0 and 100 %"),
        ({"device": np.maximum(CHART, 1.0)}, "bare paper"),
        ({"device": np.where(CHART > 0, 100.0, 0.0)}, "tone scale"),
    ],
)
def test_charts_that_tell_nothing_are_refused_with_the_reason(change: dict[str, object], word: str) -> None:
    refusal = recalibration_forecast(replace(checked(0.18), **change), TERMS)  # type: ignore[arg-type]
    assert isinstance(refusal, NoForecast)
    assert word in refusal.reason


def test_ink_that_does_not_show_is_left_straight() -> None:
    device = np.column_stack((CHART, np.zeros(len(CHART))))
    varnish = np.zeros((4, 5))
    varnish[:, 4] = (25, 50, 75, 100)
    device = np.vstack((device, varnish))
    aim, reading = (made.spectra(device[:, :4]) for made in (AIM, usual(gain=0.18)))
    found = foretold(readings(aim, reading, device, inks=(*INKS, "5CLR_5")))
    assert found.curves[4].straight
    assert np.isfinite([found.mean.high, found.p95.high, found.maximum.high]).all()


def test_chart_of_tone_scales_alone_has_a_forecast() -> None:
    device = CHART[(CHART > 0).sum(axis=1) < 2]
    found = foretold(readings(AIM.spectra(device), usual(gain=0.18).spectra(device), device))
    assert found.mean.high < found.now.mean
    assert "overprints" not in [part.what for part in found.remains]


def test_percentile_is_numpys_linear_rule() -> None:
    assert figures_of(np.array([1.0, 2.0, 4.0])).tolist() == pytest.approx([7 / 3, 3.8, 4.0])


def test_inks_of_the_json_are_those_of_the_chart() -> None:
    found = foretold(checked(0.18))
    assert tuple(curve.ink for curve in found.curves) == INKS
    assert set(found.as_json()) == {"now", "predicted", "remains", "without_curve"}
