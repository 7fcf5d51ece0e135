"""What patches are worth, against sums done by hand."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.diagnosis.healthy_sheet import MOST_USUAL, SIGMAS, SMOOTH, USUAL_SIGMA, gathered, smooth_worth

USUAL = MOST_USUAL * USUAL_SIGMA


def test_usual_noise_is_that_of_single_patches() -> None:
    assert smooth_worth(90.0)[SIGMAS <= USUAL] == pytest.approx(1.0)


@pytest.mark.parametrize("patches", [30.0, 13.0])
def test_what_is_beyond_it_is_worth_what_the_variance_of_a_mean_tells(patches: float) -> None:
    """The mean of so many patches that stray alone, and together as `SMOOTH` independent ones do."""
    beyond = SIGMAS[SIGMAS > USUAL] ** 2 - USUAL**2
    of_mean = USUAL**2 / patches + beyond / SMOOTH
    as_many = (USUAL**2 + beyond) / of_mean
    assert smooth_worth(3 * patches)[SIGMAS > USUAL] == pytest.approx(as_many / patches)


def test_few_patches_are_worth_themselves() -> None:
    assert smooth_worth(3 * SMOOTH) == pytest.approx(1.0)


def test_the_best_likelihood_is_that_of_what_least_squares_leave() -> None:
    """Against numpy's least squares and the normal density written out."""
    random = np.random.default_rng(3)
    columns, residual = random.normal(size=(40, 3, 5)), random.normal(0, 2, (40, 3))
    left = residual.ravel() - columns.reshape(-1, 5) @ np.linalg.lstsq(columns.reshape(-1, 5), residual.ravel())[0]
    sigma = float(np.sqrt((left**2).mean()))
    expected = float((-0.5 * (left / sigma) ** 2 - np.log(sigma)).sum())
    assert gathered(columns, residual, np.ones(40)).at_best == pytest.approx(expected)
