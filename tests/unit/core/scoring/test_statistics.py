"""Figures over differences, against numpy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sentinel.core.scoring.metrics import lengths, percentile
from tests.unit.core.builders import FloatArray

SAMPLES = arrays(np.float64, st.integers(1, 60), elements=st.floats(0, 150, allow_subnormal=False))


@given(SAMPLES, st.one_of(st.sampled_from([0, 5, 50, 95, 99, 100]), st.floats(0, 100)))
def test_percentile_is_numpy_s_linear_one_to_the_last_bit(values: FloatArray, percent: float) -> None:
    assert percentile(np.sort(values), percent) == float(np.percentile(values, percent, method="linear"))


@given(SAMPLES)
def test_median_is_numpy_s(values: FloatArray) -> None:
    """Its own median takes the mean of the two in the middle, which may round the last bit in another way."""
    assert percentile(np.sort(values), 50) == pytest.approx(float(np.median(values)), rel=1e-15, abs=1e-300)


@pytest.mark.parametrize(
    ("values", "percent", "expected"),
    [([7.0], 95, 7.0), ([1.0, 2.0], 50, 1.5), ([1.0, 2.0, 4.0], 50, 2.0), (list(range(1, 21)), 95, 19.05)],
)
def test_percentile_of_few_values(values: list[float], percent: float, expected: float) -> None:
    """Place (n - 1) p of the order: definition 7 of Hyndman and Fan, 1996."""
    assert percentile(np.array(values, dtype=float), percent) == pytest.approx(expected)


@given(arrays(np.float64, st.tuples(st.just(2), st.integers(1, 40)), elements=st.floats(0, 150)))
def test_every_kind_has_its_own_four_figures(values: FloatArray) -> None:
    found = lengths(("de00", "dch"), values)
    for kind, row in zip(("de00", "dch"), values, strict=True):
        assert found[f"{kind}_mean"] == pytest.approx(float(row.mean()), rel=1e-12)
        assert found[f"{kind}_median"] == pytest.approx(float(np.median(row)), rel=1e-12)
        assert found[f"{kind}_p95"] == float(np.percentile(row, 95))
        assert found[f"{kind}_max"] == float(row.max())
    assert len(found) == 8
