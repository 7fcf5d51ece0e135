"""A target of names and colours alone: what the measured file knows of the device makes the groups."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.assessment import diagnosis_among, first_diagnosis
from sentinel.core.drift.figures import group_aims
from sentinel.core.inks.readings import readings_of
from sentinel.core.measurement import Measurement
from sentinel.core.recalibration.forecast import NoForecast, RecalibrationForecast, recalibration_forecast
from sentinel.core.scoring.policy import ScoringOptions, ScoringRules
from sentinel.core.scoring.score import Aim, Score, Target, brightener_index, rescored, score
from sentinel.core.verdict import Verdict
from sentinel.service.commit import chart_record
from sentinel.settings.diagnosis import DiagnosisTable, RecalibrationTable
from sentinel.settings.targets_and_limits import HOUSE_LIMITS
from tests.unit.core.builders import FloatArray
from tests.unit.core.scoring.golden import dataset, printed

RULES = ScoringRules(score_unknown_m=True, least_patches=6, least_share=0.9, rival_share=0.5)
TERMS = RecalibrationTable().terms
WEIGHTS = DiagnosisTable().rules(TERMS).weights
FOGRA39L, TR006 = dataset("FOGRA39L"), dataset("TR006")


def aim_of(target: Measurement) -> Aim:
    return Aim(Target("aim", "0" * 64, target, target.condition, "ink-space"), HOUSE_LIMITS, 0.9)


def scored(target: Measurement, sample: Measurement) -> Score:
    return score(sample, sample.condition, [aim_of(target)], RULES)


def called(measured: Measurement, *, named: bool = True) -> Measurement:
    """With a name for every set of device values, as a chart's maker would give, or with such ids."""
    names = tuple("-".join(f"{value:g}" for value in row) for row in measured.chart.device)
    own = replace(measured.chart, names=names) if named else replace(measured.chart, names=None, ids=names)
    return replace(measured, chart=own)


def without_device(measured: Measurement) -> Measurement:
    chart = replace(measured.chart, inks=(), device=np.empty((len(measured.chart.ids), 0)))
    return replace(measured, chart=chart)


@pytest.mark.parametrize("named", [True, False], ids=["names", "ids"])
def test_the_figures_are_those_of_a_target_that_knows_its_device_values(named: bool) -> None:
    whole, bare = called(FOGRA39L, named=named), without_device(called(FOGRA39L, named=named))
    sample = called(TR006, named=named)
    wanted, found = scored(whole, sample), scored(bare, sample)
    assert found.match is not None
    assert found.match.by == ("names" if named else "ids")
    assert found.metrics == wanted.metrics
    assert (found.verdict, found.patches) == (wanted.verdict, wanted.patches)
    assert "greys" in found.metrics


def test_the_file_may_be_the_one_without_device_values() -> None:
    wanted = scored(called(FOGRA39L), called(TR006))
    assert scored(called(FOGRA39L), without_device(called(TR006))).metrics == wanted.metrics


def test_where_neither_knows_them_there_is_the_whole_sheet_alone() -> None:
    found = scored(without_device(called(FOGRA39L)), without_device(called(TR006)))
    assert found.metrics.keys() == {"all"}
    assert found.patches.keys() == {"all"}


def test_a_patch_whose_rows_disagree_or_do_not_tell_is_in_no_group_but_all() -> None:
    sample, target = called(TR006), without_device(called(FOGRA39L))
    names = sample.chart.names or ()
    solid, paper = names.index("100-0-0-0"), names.index("0-0-0-0")
    device = sample.chart.device.copy()
    device[solid] = np.nan
    other = next(row for row, name in enumerate(names) if name == "0-0-0-0" and row != paper)
    device[other] = [0, 0, 0, 40]
    found = scored(target, replace(sample, chart=replace(sample.chart, device=device)))
    assert "solid_C" not in found.patches
    assert "paper" not in found.patches
    assert found.patches["all"].read == found.patches["all"].target
    assert found.verdict is not Verdict.UNSCORED


def test_a_patch_without_values_is_known_by_its_device_values() -> None:
    sample, target = called(TR006), without_device(called(FOGRA39L))
    assert sample.lab is not None
    paper = (sample.chart.device == 0).all(axis=1)
    lab: FloatArray = np.where(paper[:, None], np.nan, sample.lab)
    found = scored(target, replace(sample, lab=lab, xyz=None))
    assert found.patches["paper"] == (0, 1, 1)
    assert found.reasons[0].code == "required-group-missing"


@pytest.mark.parametrize("spectral", [False, True], ids=["Lab", "spectra"])
def test_diagnosis_forecast_and_record_are_those_of_a_target_that_knows_its_device_values(spectral: bool) -> None:
    whole = called(printed(FOGRA39L, 0.8) if spectral else FOGRA39L)
    target, sample = without_device(whole), called(printed(FOGRA39L, 1.0) if spectral else TR006)
    found, wanted = scored(target, sample), scored(whole, sample)
    first, beside = (first_diagnosis(each, sample, sample.condition, WEIGHTS) for each in (found, wanted))
    assert first.findings
    assert [each.as_json() for each in first.findings] == [each.as_json() for each in beside.findings]
    rival = [aim_of(whole).target]
    assert diagnosis_among(first, found, sample, sample.condition, rival, WEIGHTS)
    readings = readings_of(target, sample)
    assert (readings.spectra is not None) == spectral
    forecast, other = (recalibration_forecast(each, TERMS) for each in (readings, readings_of(whole, sample)))
    assert isinstance(forecast, RecalibrationForecast)
    assert isinstance(other, RecalibrationForecast)
    assert forecast.mean == other.mean
    assert group_aims(target, ScoringOptions()).keys() == {"all"}
    assert found.match is not None
    assert wanted.match is not None
    assert chart_record(found.match) == chart_record(wanted.match)
    assert rescored(target, sample, HOUSE_LIMITS, ScoringOptions(), found.metrics).differing == {}


@pytest.mark.parametrize("step", [2, 5, 7])
def test_where_some_amounts_are_unknown_nothing_is_said_of_inks(step: int) -> None:
    target, sample = without_device(called(FOGRA39L)), called(TR006)
    device = sample.chart.device.copy()
    device[3::step] = np.nan
    sample = replace(sample, chart=replace(sample.chart, device=device))
    found = scored(target, sample)
    first = first_diagnosis(found, sample, sample.condition, WEIGHTS)
    told = diagnosis_among(first, found, sample, sample.condition, [aim_of(called(FOGRA39L)).target], WEIGHTS)
    assert all(each.ink is None for each in (*first.findings, *told))
    assert isinstance(recalibration_forecast(readings_of(target, sample), TERMS), NoForecast)


def test_the_brightener_is_found_by_the_paper_that_either_side_knows() -> None:
    bare, known = without_device(called(FOGRA39L)), called(TR006)
    m2 = replace(bare, condition=replace(bare.condition, m="M2"))
    m1 = replace(known, condition=replace(known.condition, m="M1"))
    assert brightener_index([m2, m1]) is not None
