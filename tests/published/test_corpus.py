"""Every export of the corpus is scored, to the figures that its numbers have by colour-science.

By hand the same files were scored by the program as it was before files were held to what they mean: of the 117 it
scored, all are scored still, to the same mean, 95th percentile, maximum and paper within 1e-9. The one other states
black backing, and its target white.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import colour
import numpy as np
import pytest

from sentinel.core.measurement import MeasurementCondition
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.scoring.policy import ScoringRules
from sentinel.core.scoring.score import Aim, score, target_from
from sentinel.core.verdict import Verdict
from tests.published.exports import (
    BANDS,
    CMYK,
    DATASETS,
    LAB,
    PACKAGED,
    XYZ,
    Case,
    Columns,
    Export,
    FloatArray,
    corpus,
    spectra,
    written,
)

CASES = {case.name: case for case in corpus()}
OTHER_BACKING = "header: black backing"
RULES = ScoringRules(score_unknown_m=True, least_patches=6, least_share=0.9, rival_share=0.5)
WHITE = np.array([96.422, 100.0, 82.521])
"""ASTM E308, D50, 2 degrees."""


def chart_as_published() -> FloatArray:
    return np.array([sd.values[:71:2] for sd in colour.SDS_COLOURCHECKERS["cc_ohta"].values()])


@lru_cache
def target(kind: str) -> Aim:
    data = (DATASETS / "TR006.txt").read_bytes() if kind == "inks" else written(spectra(chart_as_published()), Export())
    return Aim(target_from(data, kind, 1, "ink-space", MeasurementCondition()), {}, None)


def numbers(columns: Columns, names: tuple[str, ...]) -> FloatArray:
    return np.array([columns[name] for name in names], np.float64).T


def lab_of(xyz: FloatArray) -> FloatArray:
    return np.asarray(colour.XYZ_to_Lab(xyz / 100, colour.XYZ_to_xy(WHITE)), np.float64)


def averaged(keys: list[Any], values: FloatArray) -> dict[Any, FloatArray]:
    rows: dict[Any, list[FloatArray]] = {}
    for key, value in zip(keys, values, strict=True):
        rows.setdefault(key, []).append(value)
    return {key: np.mean(each, axis=0) for key, each in rows.items()}


def by_amounts(columns: Columns) -> dict[Any, FloatArray]:
    """Lab as given, else of the mean XYZ, by CMYK."""
    keys = [tuple(row) for row in np.round(numbers(columns, CMYK), 2).tolist()]
    if LAB[0] in columns:
        return averaged(keys, numbers(columns, LAB))
    return {key: lab_of(xyz) for key, xyz in averaged(keys, numbers(columns, XYZ)).items()}


@lru_cache
def aims() -> dict[Any, FloatArray]:
    """TR 006, whose columns are those of FOGRA39L."""
    lines = [line.strip() for line in (DATASETS / "TR006.txt").read_text(encoding="latin-1").splitlines()]
    rows = [line.split() for line in lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")]]
    return by_amounts(dict(zip(("ID", *CMYK, *XYZ, *LAB), map(list, zip(*rows, strict=True)), strict=True)))


def of_spectra(reflectance: FloatArray, table: FloatArray) -> FloatArray:
    """By the weights of E2022 in colour-science (`tests/data/published`), bands that are missing added to the ends."""
    weights = np.zeros((len(BANDS), 3))
    np.add.at(weights, np.searchsorted(BANDS, np.clip(table[:, 0], BANDS[0], BANDS[-1])), table[:, 1:])
    return lab_of(reflectance @ weights)


def expected(case: Case, table: FloatArray) -> FloatArray:
    """The CIEDE2000 of every patch."""
    if case.kind == "inks":
        read = by_amounts(case.columns)
        aim, sample = np.array([(aims()[key], lab) for key, lab in read.items() if key in aims()]).swapaxes(0, 1)
    else:
        values = numbers(case.columns, tuple(name for name in case.columns if name != "SAMPLE_ID"))
        aim, sample = (of_spectra(each, table) for each in (np.round(chart_as_published(), 5), values))
    return np.asarray(colour.delta_E(aim, sample, method="CIE 2000"), np.float64)


@pytest.mark.parametrize("name", [name for name in CASES if name != OTHER_BACKING])
def test_every_export_is_scored_to_the_figures_of_its_numbers(
    name: str, published_table: Callable[[str], FloatArray]
) -> None:
    case = CASES[name]
    values = expected(case, published_table("d50_2deg_e2022_computed_10nm.csv"))
    theirs = {
        "de00_mean": values.mean(),
        "de00_p95": np.percentile(values, 95),
        "de00_max": values.max(),
    }
    for measured in read_measurements(case.data):
        found = score(measured, measured.condition, [target(case.kind)], RULES)
        assert found.verdict is not Verdict.UNSCORED, [str(reason.message) for reason in found.reasons]
        assert "contradicts-itself" not in [reason.code.value for reason in found.reasons]
        ours = found.metrics["all"]
        # The weights have five decimals, which leave 0.0001 of a colour open.
        same = 1e-9 if case.kind == "inks" else 2e-4
        assert {metric: ours[metric] for metric in theirs} == pytest.approx(theirs, abs=same)


def test_another_backing_than_the_target_s_is_not_scored() -> None:
    [measured] = read_measurements(CASES[OTHER_BACKING].data)
    found = score(measured, measured.condition, [target("inks")], RULES)
    assert [reason.code.value for reason in found.reasons] == ["backing-mismatch"]


def test_texts_that_come_with_other_programs_are_read_and_contradict_themselves_nowhere() -> None:
    files = [path for path in PACKAGED.glob("*.txt") if b"BEGIN_DATA_FORMAT" in path.read_bytes()]
    assert files
    for path in files:
        for measured in read_measurements(path.read_bytes()):
            itself = Aim(target_from(path.read_bytes(), "itself", 1, "ink-space", MeasurementCondition()), {}, None)
            found = score(measured, measured.condition, [itself], RULES)
            assert found.verdict is not Verdict.UNSCORED, [str(reason.message) for reason in found.reasons]
            assert "contradicts-itself" not in [reason.code.value for reason in found.reasons]
            assert found.metrics["all"]["de00_max"] == 0
