"""The percentile a check reports, against the definition and numpy."""

from __future__ import annotations

from collections.abc import Callable

import colour
import numpy as np
import numpy.typing as npt
import pytest

from sentinel.core.measurement import Chart, Measurement, MeasurementCondition
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import figures_of
from sentinel.core.scoring.policy import ScoringOptions

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]


SIZES = (2, 20, 21, 72, 1617)


def test_95th_percentile_is_hyndman_and_fans_definition_7(record_deviation: Record) -> None:
    """The American Statistician 50(4), 1996: at place 0.95 (n - 1) of the sorted values, straight between two.

    The values are CIEDE2000 by colour-science; numpy's linear rule must give the same.
    """
    worst = 0.0
    for patches in SIZES:
        random = np.random.default_rng(patches)
        target = random.uniform([20, -30, -30], [90, 30, 30], (patches, 3))
        sample = target + random.normal(0, 1, (patches, 3))
        values = np.asarray(colour.delta_E(target, sample, method="CIE 2000"), np.float64)
        by_definition = _definition_7(values.tolist(), 0.95)
        assert np.percentile(values, 95, method="linear") == pytest.approx(by_definition, abs=1e-12)
        figures = figures_of(match(_measurement(target), _measurement(sample)), ScoringOptions())
        ours = figures.metrics["all"]["de00_p95"]
        worst = max(worst, abs(ours - by_definition))
    record_deviation(
        "95th percentile of 2 to 1617 patches: definition 7 of Hyndman and Fan 1996, and numpy",
        len(SIZES),
        worst,
        1e-9,
    )


def _definition_7(values: list[float], share: float) -> float:
    ordered = sorted(values)
    place = share * (len(ordered) - 1)
    below = int(place)
    return ordered[below] + (place - below) * (ordered[below + 1] - ordered[below])


def _measurement(lab: FloatArray) -> Measurement:
    """A strip of one ink, a step a patch."""
    steps = np.linspace(0, 100, len(lab))[:, np.newaxis]
    ids = tuple(str(row + 1) for row in range(len(lab)))
    return Measurement(
        table=1,
        chart=Chart(ids=ids, names=None, inks=("K",), device=steps),
        condition=MeasurementCondition(illuminant="D50", observer=2),
        wavelengths=None,
        reflectance=None,
        lab=lab,
        xyz=None,
        instrument=None,
        serial=None,
        created=None,
        keywords={},
        assumptions=(),
    )
