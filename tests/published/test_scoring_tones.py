"""Errors of tone value on published data, against the formulas worked with numpy and colour-science.

TR 006 against FOGRA39L: both hold the same steps of each ink, so that no interpolation stands between.
Process inks: Murray-Davies with X - 0.55 Z (cyan), Y (magenta, black), Z (yellow); ISO 10128 and 12647, the 0.55 from
memory. Other inks: ISO 20654, the formula verified from one open implementation, no published example found.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import colour
import numpy as np
import numpy.typing as npt
import pytest

from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import measurements, read
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import Metrics, figures_of
from sentinel.core.scoring.policy import ScoringOptions

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]
Curve = dict[float, FloatArray]
"""X, Y, Z by nominal value of one ink, repeated patches averaged."""

DATASETS = Path(__file__).parents[1] / "data" / "datasets"
INKS = ("C", "M", "Y", "K")
FILTERS = {"C": (1.0, 0.0, -0.55), "M": (0.0, 1.0, 0.0), "Y": (0.0, 0.0, 1.0), "K": (0.0, 1.0, 0.0)}
D50 = np.array([96.422, 100.0, 82.521])
"""ASTM E308, 2 degrees."""
SAME = 1e-9


def rows_of(name: str) -> FloatArray:
    """Id, CMYK, XYZ, Lab, read without our own reader."""
    lines = [line.strip() for line in (DATASETS / f"{name}.txt").read_text(encoding="latin-1").splitlines()]
    return np.loadtxt(lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")])


def curve(rows: FloatArray, ink: str, columns: slice) -> Curve:
    """The steps of one ink with paper at 0 and the solid at 100; `columns` holds their colour."""
    own = 1 + INKS.index(ink)
    others = [column for column in range(1, 5) if column != own]
    alone = rows[(rows[:, others] == 0).all(axis=1)]
    return {float(step): alone[alone[:, own] == step][:, columns].mean(axis=0) for step in np.unique(alone[:, own])}


def process_values(steps: Curve, ink: str) -> dict[float, float]:
    seen = {step: float(xyz @ np.array(FILTERS[ink])) for step, xyz in steps.items()}
    return {step: 100 * (seen[0] - value) / (seen[0] - seen[100]) for step, value in seen.items()}


def spot_values(steps: Curve) -> dict[float, float]:
    """ISO 20654: V is CIE 1976 lightness of each of X, Y, Z, which colour-science computes."""
    seen = {
        step: np.array([float(colour.lightness(100 * xyz[i] / D50[i], method="CIE 1976")) for i in range(3)])
        for step, xyz in steps.items()
    }
    whole = np.linalg.norm(seen[100] - seen[0])
    return {step: float(100 * np.linalg.norm(value - seen[0]) / whole) for step, value in seen.items()}


def errors(aim: dict[float, float], found: dict[float, float]) -> dict[str, float]:
    assert aim.keys() == found.keys()
    off = np.array([found[step] - aim[step] for step in found if 0 < step < 100])
    assert len(off) > 10
    return {"tv_mean": float(off.mean()), "tv_max": float(np.abs(off).max())}


def ours(change: Callable[[Measurement], Measurement], reckoning: ScoringOptions) -> Metrics:
    aim, sample = (change(_dataset(name)) for name in ("FOGRA39L", "TR006"))
    return figures_of(match(aim, sample), reckoning).metrics


def _dataset(name: str) -> Measurement:
    [found] = measurements(read((DATASETS / f"{name}.txt").read_bytes()))
    return found


def as_xyz(measured: Measurement) -> Measurement:
    return replace(measured, lab=None)


def as_channels(measured: Measurement) -> Measurement:
    chart = replace(measured.chart, inks=tuple(f"4CLR_{number}" for number in range(1, 5)))
    return replace(measured, lab=None, chart=chart)


def deviation(metrics: Metrics, theirs: dict[str, dict[str, float]]) -> tuple[int, float]:
    off = [abs(metrics[group][name] - value) for group, values in theirs.items() for name, value in values.items()]
    return len(off), max(off)


def test_tone_errors_of_process_inks_from_xyz(record_deviation: Record) -> None:
    fogra, tr006 = rows_of("FOGRA39L"), rows_of("TR006")
    theirs = {
        f"tones_{ink}": errors(*(process_values(curve(rows, ink, slice(5, 8)), ink) for rows in (fogra, tr006)))
        for ink in INKS
    }
    source = "Mean and largest error of tone value, C, M, Y, K, TR 006 against FOGRA39L: worked from their X, Y, Z"
    record_deviation(source, *deviation(ours(as_xyz, ScoringOptions()), theirs), SAME)


def test_tone_errors_of_process_inks_from_lab(record_deviation: Record) -> None:
    """X, Y, Z of the published Lab by colour-science."""
    white = colour.XYZ_to_xy(D50)
    tables = []
    for name in ("FOGRA39L", "TR006"):
        rows = rows_of(name)
        by_cmyk: dict[tuple[float, ...], list[FloatArray]] = {}
        for row in rows:
            by_cmyk.setdefault(tuple(row[1:5].tolist()), []).append(row[8:11])
        lab = np.array([np.mean(each, axis=0) for each in by_cmyk.values()])
        xyz = 100 * np.asarray(colour.Lab_to_XYZ(lab, white), np.float64)
        tables.append(np.column_stack([np.zeros(len(lab)), np.array(list(by_cmyk)), xyz]))
    theirs = {
        f"tones_{ink}": errors(*(process_values(curve(rows, ink, slice(5, 8)), ink) for rows in tables)) for ink in INKS
    }
    source = "Mean and largest error of tone value, C, M, Y, K, from their Lab: X, Y, Z by colour-science"
    record_deviation(source, *deviation(ours(lambda measured: measured, ScoringOptions()), theirs), SAME)


@pytest.mark.parametrize(("names", "called"), [((), "unnamed channels"), (("O", "G", "V", "W"), "extra inks")])
def test_tone_errors_of_other_inks_are_those_of_iso_20654(
    names: tuple[str, ...], called: str, record_deviation: Record
) -> None:
    """The same data as if its inks were no process inks."""
    fogra, tr006 = rows_of("FOGRA39L"), rows_of("TR006")
    inks = names or tuple(f"4CLR_{number}" for number in range(1, 5))
    theirs = {
        f"tones_{shown}": errors(*(spot_values(curve(rows, ink, slice(5, 8))) for rows in (fogra, tr006)))
        for ink, shown in zip(INKS, inks, strict=True)
    }
    found = ours(as_channels, ScoringOptions(ink_names=names))
    source = f"Mean and largest error of ISO 20654 tone value, {called}: lightness by colour-science"
    record_deviation(source, *deviation(found, theirs), SAME)


def test_through_a_profile_published_data_has_no_tone_values() -> None:
    found = ours(as_xyz, ScoringOptions(ink_space=False))
    assert "tones_C" in found
    assert not any(name.startswith("tv_") for values in found.values() for name in values)
