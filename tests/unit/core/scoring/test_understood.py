"""No figure stands on what is not understood: the patches, the values, their light, the M condition, the backing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.measurement.cgats import document_of, measurements
from sentinel.core.scoring.policy import ScoringRules
from sentinel.core.scoring.score import Aim, Score, Target, score
from sentinel.core.verdict import Verdict
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, MeasurementsTable
from tests.unit.core.builders import codes

RULES: ScoringRules = MeasurementsTable().rules
DEVICE = [(0, 0, 0, 0), (100, 0, 0, 0), (0, 100, 0, 0), (0, 0, 100, 0), (0, 0, 0, 100), (50, 0, 0, 0), (0, 50, 0, 0)]
LAB = [(95, 0, -2), (55, -36, -49), (48, 73, -4), (89, -5, 92), (16, 0, 0), (75, -19, -27), (71, 36, -5)]
PLAIN = {"MEASUREMENT_MODE": "M1", "ILLUMINANT": "D50", "OBSERVER": "2"}
Columns = dict[str, list[str] | list[float]]


def columns(extra: Mapping[str, list[float]] | None = None) -> Columns:
    """Seven patches and what `extra` adds to them."""
    own: Columns = {"SAMPLE_ID": [str(row) for row in range(len(LAB))]}
    own |= {f"CMYK_{ink}": [float(row[turn]) for row in DEVICE] for turn, ink in enumerate("CMYK")}
    own |= {f"LAB_{axis}": [float(row[turn]) for row in LAB] for turn, axis in enumerate("LAB")}
    return own | dict(extra or {})


def reading(keywords: Mapping[str, str] | None = None, extra: Mapping[str, list[float]] | None = None) -> Measurement:
    return measurements(document_of(columns(extra), {**PLAIN, **(keywords or {})}))[0]


def against(
    sample: Measurement, target: Measurement | None = None, condition: MeasurementCondition | None = None
) -> Score:
    aimed = target or reading()
    aim = Aim(Target("aim", "0" * 64, aimed, aimed.condition, "ink-space"), HOUSE_LIMITS, None)
    return score(sample, condition or sample.condition, [aim], replace(RULES, least_patches=1))


def test_a_file_that_is_understood_is_scored() -> None:
    assert against(reading()).verdict is Verdict.PASS


@pytest.mark.parametrize(
    "keywords",
    [
        {"COMPUTATIONAL_PARAMETER": "D65"},
        {"MAKER_SETTINGS": "ObserverAngle=10"},
        {"MAKER_SETTINGS": "WhiteBase=Pap"},
        {"POLARIZATION": "yes"},
        {"MAKER_SETTINGS": "Measurement Condition=M0"},
        {"SAMPLE_BACKING": "black and white"},
    ],
)
def test_what_contradicts_or_is_not_understood_leaves_no_verdict(keywords: dict[str, str]) -> None:
    outcome = against(reading(keywords))
    assert outcome.verdict is Verdict.UNSCORED
    assert codes(outcome.reasons) == ["meaning-unclear"]


def test_lab_of_another_light_is_not_scored_whatever_states_it() -> None:
    sample = measurements(document_of(columns(), {"MEASUREMENT_MODE": "M1", "ILLUMINATION_NAME": "D65"}))[0]
    assert codes(against(sample).reasons) == ["not-d50-2"]


def test_a_private_m0_is_not_scored_against_m1() -> None:
    sample = measurements(document_of(columns(), {"MAKER_SETTINGS": "Series 2 Measurement Condition=M0 Filter=No"}))[0]
    assert codes(against(sample).reasons) == ["m-condition-mismatch"]


def test_a_declared_m_condition_and_backing_settle_what_the_file_leaves_unclear() -> None:
    sample = reading({"POLARIZATION": "yes", "SAMPLE_BACKING": "grey tile"})
    declared = replace(sample.condition, m="M1", backing="white")
    assert against(sample, condition=declared).verdict is Verdict.PASS
    assert against(sample, condition=replace(declared, backing=None)).verdict is Verdict.UNSCORED


def test_a_target_that_is_not_understood_is_none() -> None:
    outcome = against(reading(), target=reading({"COMPUTATIONAL_PARAMETER": "D65"}))
    assert codes(outcome.reasons) == ["meaning-unclear"]


def test_a_spot_ink_is_never_averaged_into_paper() -> None:
    spot = {"SPOT_1": [0.0] * 6 + [100.0]}
    plain = reading(extra={"CMYK_M": [0.0, 0, 100, 0, 0, 0, 0], **spot})
    assert plain.chart.inks == ("C", "M", "Y", "K", "SPOT_1")
    assert codes(against(plain).reasons) == ["chart-mismatch"]
    same = against(plain, target=plain)
    assert same.match is not None
    assert len(same.match) == len(LAB)


def test_an_unknown_column_that_parts_paper_from_another_colour_leaves_no_verdict() -> None:
    sample = reading(extra={"CMYK_M": [0.0, 0, 100, 0, 0, 0, 0], "VIVID": [0.0] * 6 + [100.0]})
    assert codes(against(sample).reasons) == ["meaning-unclear"]


@pytest.mark.parametrize("factor", [0.01, 2.55])
def test_another_scale_of_the_same_chart_has_the_same_figures(factor: float) -> None:
    scale = {f"CMYK_{ink}": [row[turn] * factor for row in DEVICE] for turn, ink in enumerate("CMYK")}
    outcome = against(reading(extra=scale))
    assert outcome.metrics == against(reading()).metrics
    assert "paper" in outcome.metrics


def test_the_light_of_lab_beside_spectra_bears_on_nothing() -> None:
    bands = {f"SPECTRAL_NM{nm}": np.linspace(0.2, 0.8, len(LAB)).tolist() for nm in range(380, 740, 10)}
    own: Columns = {name: cells for name, cells in columns(bands).items() if not name.startswith("LAB_")}
    sample = measurements(document_of(own, {"MEASUREMENT_MODE": "M1", "ILLUMINANT": "office"}))[0]
    assert against(sample, target=sample).verdict is Verdict.PASS
