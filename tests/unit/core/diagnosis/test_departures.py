"""The prior that a diagnosis takes and the likelihood it gives: against the formulas of handbooks, and one another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.departures import DepartureLikelihood, DepartureName, DeparturePrior, departure_names
from sentinel.core.diagnosis.design_matrix import Design, DesignColumn
from sentinel.core.diagnosis.diagnose import diagnose, diagnose_fully
from sentinel.core.diagnosis.explanations import ExplanationBasis
from sentinel.core.diagnosis.healthy_sheet import PAPER_SIGMA, SIGMAS, HealthySheet, gathered, sheet_prior
from sentinel.core.diagnosis.odd_patches import Neighbours
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.unit.core.diagnosis.sheets import Press, full_chart, small_chart, subject

CHART = small_chart()
AIM = Press().spectra(CHART)
NAMES = tuple(DepartureName("strength", ink) for ink in "CMY")


def drawn(seed: int, patches: int = 40) -> tuple[FloatArray, FloatArray]:
    """Columns (patches, 3, 3) and a residual (patches, 3)."""
    chance = np.random.default_rng(seed)
    return chance.normal(size=(patches, 3, 3)), chance.normal(size=(patches, 3))


def basis_of(columns: FloatArray, residual: FloatArray, prior: DeparturePrior | None = None) -> ExplanationBasis:
    """Of a print whose departures are the strengths of three inks, its first patch bare paper."""
    units = (0.5, 0.02, 3.0)
    design = Design(
        tuple(DesignColumn("strength", ink, unit) for ink, unit in enumerate(units)), columns, np.array([1.0, 0.0, 0.0])
    )
    ones, paper = np.ones(len(columns)), np.zeros(len(columns))
    paper[0] = 1.0
    names = departure_names(design, ("C", "M", "Y"))
    prior_of_sheet = sheet_prior(design, names, prior)
    near = Neighbours(columns[:, :, 0], np.arange(len(columns)))
    return ExplanationBasis(design, residual, ones, ones, paper, prior_of_sheet, HOUSE_WEIGHTS, near)


def prior_of(seed: int = 3) -> DeparturePrior:
    chance = np.random.default_rng(seed)
    units = np.array([0.5, 0.02, 3.0])
    root = units[:, None] * chance.normal(size=(3, 3))
    return DeparturePrior(NAMES, units * chance.normal(size=3), root @ root.T)


def test_prior_and_likelihood_together_are_what_the_fit_inside_makes_of_them() -> None:
    columns, residual = drawn(1)
    prior = prior_of()
    basis = basis_of(columns, residual, prior)
    sheet = HealthySheet(basis.sums(), basis.of_paper(), basis.prior)
    seen = basis.likelihood(NAMES)
    at = int(np.argmin(np.abs(SIGMAS - seen.sigmas[0])))
    units = np.array([each.unit for each in basis.design.departures])
    assert prior.after(seen).mean == pytest.approx(sheet.mean[at] * units, rel=1e-7)


def test_a_prior_is_updated_as_kalmans_filter_does() -> None:
    """x + K (z - H x) and (I - K H) P, K = P Hᵀ (H P Hᵀ + R)⁻¹: Bar-Shalom, Li and Kirubarajan, Estimation with
    Applications to Tracking and Navigation, 2001, section 5.2 (from memory)."""
    columns, residual = drawn(2)
    prior = prior_of()
    seen = basis_of(columns, residual, prior).likelihood(NAMES)
    units = np.array([0.5, 0.02, 3.0])
    h = columns.reshape(-1, 3) / units
    variance = np.repeat(np.full(len(columns), seen.sigmas[0] ** 2), 3)
    # bare paper is read twice: as a patch like others, and as a witness of known noise
    h, z = np.vstack([h, h[:3]]), np.concatenate([residual.ravel(), residual.ravel()[:3]])
    r = np.diag(np.concatenate([variance, np.full(3, PAPER_SIGMA**2)]))
    gain = prior.covariance @ h.T @ np.linalg.inv(h @ prior.covariance @ h.T + r)
    after = prior.after(seen)
    assert after.mean == pytest.approx(prior.mean + gain @ (z - h @ prior.mean), rel=1e-6)
    assert after.covariance == pytest.approx((np.eye(3) - gain @ h) @ prior.covariance, rel=1e-6, abs=1e-12)


def test_two_likelihoods_added_are_that_of_one_fit_to_both() -> None:
    (first, one), (second, two) = drawn(4), drawn(5)
    weights = np.ones(40)
    apart = [gathered(columns, residual, weights) for columns, residual in ((first, one), (second, two))]
    joint = gathered(np.concatenate([first, second]), np.concatenate([one, two]), np.ones(80))
    each = [DepartureLikelihood(NAMES, sums.gram, sums.score, -0.5 * sums.square, (1.0,)) for sums in apart]
    both = each[0] + each[1]
    departures = np.array([0.3, -0.2, 0.1])
    assert both.information == pytest.approx(joint.gram)
    assert both.vector == pytest.approx(joint.score)
    assert both.log(departures) == pytest.approx(each[0].log(departures) + each[1].log(departures))
    assert both.sigmas == (1.0, 1.0)


def test_the_flat_limit_is_generalised_least_squares() -> None:
    """(Xᵀ V⁻¹ X)⁻¹ Xᵀ V⁻¹ y: Aitken 1935, as numpy's least squares solves it on whitened rows."""
    columns, residual = drawn(6)
    weights = np.random.default_rng(7).uniform(0.2, 2.0, 40)
    sums = gathered(columns, residual, weights)
    wide = DeparturePrior(NAMES, np.zeros(3), 1e8 * np.eye(3))
    after = wide.after(DepartureLikelihood(NAMES, sums.gram, sums.score, 0.0, (1.0,)))
    white = np.sqrt(np.repeat(weights, 3))
    found = np.linalg.lstsq(columns.reshape(-1, 3) * white[:, None], residual.ravel() * white, rcond=None)[0]
    assert after.mean == pytest.approx(found, rel=1e-6)


def test_likelihoods_of_other_inks_are_laid_side_by_side() -> None:
    cyan = DepartureLikelihood(NAMES[:1], np.array([[4.0]]), np.array([2.0]), 0.0, (0.3,))
    yellow = DepartureLikelihood(NAMES[2:], np.array([[9.0]]), np.array([3.0]), 0.0, (0.4,))
    both = cyan + yellow
    assert both.names == (NAMES[0], NAMES[2])
    assert both.information == pytest.approx(np.diag([4.0, 9.0]))


def test_what_a_sheet_does_not_show_follows_what_it_goes_with() -> None:
    both = DeparturePrior(NAMES[:2], np.zeros(2), np.array([[1.0, 0.9], [0.9, 1.0]]))
    after = both.after(DepartureLikelihood(NAMES[:1], np.array([[1e6]]), np.array([1e6]), 0.0, (0.3,)))
    assert after.mean == pytest.approx([1.0, 0.9], abs=1e-3)
    assert after.covariance[1, 1] == pytest.approx(1 - 0.81, abs=1e-3)


@pytest.mark.parametrize(
    ("names", "mean", "covariance", "said"),
    [
        ((NAMES[0], NAMES[0]), np.zeros(2), np.eye(2), "every departure once"),
        (NAMES[:2], np.zeros(3), np.eye(2), "shapes"),
        (NAMES[:2], np.zeros(2), np.array([[1.0, 2.0], [2.0, 1.0]]), "negative eigenvalues"),
        (NAMES[:2], np.zeros(2), np.array([[1.0, 0.5], [0.0, 1.0]]), "symmetric"),
        (NAMES[:1], np.array([np.nan]), np.eye(1), "finite"),
    ],
)
def test_a_prior_that_is_none_is_refused(
    names: tuple[DepartureName, ...], mean: FloatArray, covariance: FloatArray, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        DeparturePrior(names, mean, covariance)


def test_a_likelihood_of_something_nobody_expects_is_refused() -> None:
    with pytest.raises(ValueError, match="DepartureName"):
        DeparturePrior(NAMES[:1], np.zeros(1), np.eye(1)).after(
            DepartureLikelihood(NAMES[1:2], np.eye(1), np.zeros(1), 0.0, (0.3,))
        )


def test_the_departure_is_read_in_its_physical_unit() -> None:
    chart = full_chart()
    aim, reading = Press().spectra(chart), Press(strength={0: 1.12}, seed=4).spectra(chart)
    seen = diagnose_fully(subject(chart, aim, reading), HOUSE_WEIGHTS).likelihood
    wide = DeparturePrior(seen.names, np.zeros(len(seen.names)), np.diag(_wide(seen.names)))
    after = wide.after(seen)
    place = after.names.index(DepartureName("strength", "C"))
    assert after.mean[place] == pytest.approx(0.12, abs=0.04)


def _wide(names: tuple[DepartureName, ...]) -> FloatArray:
    """Variances: anything is possible for strengths, a little for the rest."""
    return np.array([0.3**2 if name.kind == "strength" else 0.01**2 for name in names])


def test_a_fault_that_the_prior_foretells_is_none() -> None:
    reading = Press(strength={0: 1.12}, seed=4).spectra(CHART)
    case = subject(CHART, AIM, reading)
    [first, *_] = diagnose(case, HOUSE_WEIGHTS)
    assert (first.cause, first.ink) == (Cause.SOLID, "C")
    name = DepartureName("strength", "C")
    foretold = DeparturePrior((name,), np.array([0.12]), np.array([[0.02**2]]))
    assert diagnose(case, HOUSE_WEIGHTS, foretold) == ()


def test_a_print_that_moved_back_to_its_aim_is_a_fault_where_it_was_foretold_elsewhere() -> None:
    name = DepartureName("strength", "M")
    foretold = DeparturePrior((name,), np.array([0.25]), np.array([[0.01**2]]))
    found = diagnose(subject(CHART, AIM, Press(seed=5).spectra(CHART)), HOUSE_WEIGHTS, foretold)
    assert (found[0].ink, found[0].sign) == ("M", -1)


def test_a_prior_like_the_usual_one_changes_nothing() -> None:
    case = subject(CHART, AIM, Press(gain={1: 0.05}, seed=6).spectra(CHART))
    nothing = DeparturePrior((), np.zeros(0), np.zeros((0, 0)))
    plain, same = diagnose(case, HOUSE_WEIGHTS), diagnose(case, HOUSE_WEIGHTS, nothing)
    assert [(each.cause, each.confidence) for each in plain] == [(each.cause, each.confidence) for each in same]


def test_the_likelihood_of_patches_out_of_order_is_that_of_the_order_found() -> None:
    chart = full_chart()
    aim = Press().spectra(chart)
    right = Press(strength={0: 1.15}, seed=4).spectra(chart)
    shifted = subject(chart, aim, np.roll(right, 1, axis=0))
    seen, plain = (diagnose_fully(each, HOUSE_WEIGHTS).likelihood for each in (shifted, subject(chart, aim, right)))
    wide = DeparturePrior(plain.names, np.zeros(len(plain.names)), np.diag(_wide(plain.names)))
    place = plain.names.index(DepartureName("strength", "C"))
    assert wide.after(seen).mean[place] == pytest.approx(wide.after(plain).mean[place], abs=0.02)


def test_noise_of_a_prior_takes_the_place_of_the_usual() -> None:
    columns, residual = drawn(8)
    prior = basis_of(columns, residual, replace(prior_of(), noise=0.7)).prior
    assert prior.noise == 0.7
