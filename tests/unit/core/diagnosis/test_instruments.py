"""Two instruments on the same sheets: how they differ by region, and the correction between them."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab
from sentinel.core.diagnosis.instruments import STUDENT_95, CorrectionForm, PairedReading, agreement, corrected
from tests.unit.core.diagnosis.sheets import Press, full_chart, lab_of

CHART = full_chart()
SPECTRA = Press(noise=0.01).spectra(CHART)
SOLIDS = np.asarray(((CHART == 100).sum(axis=1) == 1) & ((CHART > 0).sum(axis=1) == 1))
PAPER = np.asarray((CHART == 0).all(axis=1))


def repeated(spectra: FloatArray, seed: int) -> FloatArray:
    """A reading with the scatter of an instrument: Lab (n, 3)."""
    random = np.random.default_rng(seed)
    return lab_of(spectra * (1 + 0.0008 * random.normal(size=(len(spectra), 1))))


def pair(second: FloatArray, seed: int = 1, first: FloatArray = SPECTRA) -> PairedReading:
    return PairedReading(repeated(first, seed), repeated(second, seed + 1000), PAPER, SOLIDS)


def test_a_scale_and_a_zero_are_found_as_they_were_put_in() -> None:
    found = agreement([pair(SPECTRA * 1.02 + 0.002)])
    assert found.correction.form is CorrectionForm.SCALE_AND_ZERO
    terms = {each.name: each for each in found.correction.terms}
    for name in ("X scale", "Y scale", "Z scale"):
        assert terms[name].value == pytest.approx(1 / 1.02, abs=0.001)
    assert terms["Y zero"].value == pytest.approx(-0.2 / 1.02, abs=2 * terms["Y zero"].plus_minus)
    assert found.correction.left < 0.06 < found.everything.mean
    assert found.one_sheet is True


def test_an_affine_correction_is_that_of_least_squares() -> None:
    """Against `numpy.linalg.lstsq` on data that have one exactly."""
    first = lab_of(SPECTRA)
    true = np.array([[1.01, 0.02, 0.0], [0.0, 0.98, -0.03], [0.01, 0.03, 0.97]])
    second = first @ true.T + np.array([0.5, -0.3, 0.2])
    noisy = first + np.random.default_rng(3).normal(0, 0.02, first.shape)
    found = agreement([PairedReading(noisy, second, PAPER, SOLIDS)])
    assert found.correction.form is CorrectionForm.AFFINE
    by_numpy = np.linalg.lstsq(np.column_stack([np.ones(len(second)), second]), noisy - second, rcond=None)[0]
    terms = np.array([each.value for each in found.correction.terms]).reshape(4, 3)
    np.testing.assert_allclose(terms[1:], by_numpy[1:], atol=0.001)
    np.testing.assert_allclose(terms[0], by_numpy[0], atol=0.03)


def test_instruments_that_agree_get_no_correction() -> None:
    found = agreement([pair(SPECTRA)])
    assert found.correction.form is CorrectionForm.NONE
    assert found.correction.terms == ()
    assert set(found.correction.others) == set(CorrectionForm) - {CorrectionForm.NONE}


def test_regions_have_means_spreads_and_what_they_may_be_off_by() -> None:
    pairs = [pair(SPECTRA * 1.03)]
    found = agreement(pairs)
    assert [each.region for each in found.regions] == ["paper", "solids", "neutrals", "dark", "all"]
    paper = found.regions[0]
    change = (pairs[0].second - pairs[0].first)[PAPER]
    assert paper.count == PAPER.sum()
    assert paper.lab == pytest.approx(tuple(change.mean(axis=0)))
    assert paper.spread == pytest.approx(tuple(change.std(axis=0, ddof=1)))
    assert paper.plus_minus[0] == pytest.approx(STUDENT_95[0] * change[:, 0].std(ddof=1) / np.sqrt(2))
    assert found.everything.mean == pytest.approx(float(de00(pairs[0].first, pairs[0].second).mean()))
    assert paper.left < 0.2 * paper.mean


def test_a_single_patch_of_paper_is_told_without_a_spread() -> None:
    kept = np.ones(len(CHART), dtype=bool)
    kept[np.flatnonzero(PAPER)[1:]] = False
    whole = pair(SPECTRA * 1.03)
    found = agreement([PairedReading(whole.first[kept], whole.second[kept], PAPER[kept], SOLIDS[kept])])
    paper = found.regions[0]
    assert (paper.region, paper.count, paper.spread) == ("paper", 1, None)
    assert 0 < paper.plus_minus[0] < paper.lab[0]


def test_a_few_smeared_patches_do_not_move_the_correction() -> None:
    clean, smeared = pair(SPECTRA * 1.02), pair(SPECTRA * 1.02)
    smeared.second[:8] += 15.0
    one, other = (agreement([each]).correction for each in (clean, smeared))
    assert other.form is one.form
    assert [each.value for each in other.terms] == pytest.approx([each.value for each in one.terms], abs=0.05)


def test_three_sheets_are_tried_as_whole_sheets_and_one_is_not() -> None:
    sheets = [Press(noise=0.01, seed=seed).spectra(CHART) for seed in range(3)]
    found = agreement([pair(1.02 * sheet, seed, sheet) for seed, sheet in enumerate(sheets)])
    assert (found.sheets, found.patches, found.by_sheets) == (3, 3 * len(CHART), True)
    assert not agreement([pair(1.02 * sheets[0])]).by_sheets


@pytest.mark.parametrize(("noise", "may_be"), [(0.012, None), (0.05, False)])
def test_another_sheet_is_doubted_or_refused_by_what_is_left(noise: float, may_be: bool | None) -> None:
    other = Press(noise=noise, seed=9, gain={0: 0.02}).spectra(CHART)
    assert agreement([pair(other)]).one_sheet is may_be


def test_a_correction_of_scale_is_exact_in_xyz() -> None:
    lab = lab_of(SPECTRA)
    values = np.array([0.01, -0.02, 0.03, 0.1, -0.1, 0.2])
    expected = xyz_from_lab(lab, D50_ASTM_E308) * [1.01, 0.98, 1.03] + [0.1, -0.1, 0.2]
    np.testing.assert_allclose(
        corrected(CorrectionForm.SCALE_AND_ZERO, values, lab), lab_from_xyz(expected, D50_ASTM_E308), atol=1e-9
    )


def test_students_quantiles_are_those_of_simulation() -> None:
    """Against Student's own experiment: nine in ten of many means of normal samples lie within."""
    random = np.random.default_rng(11)
    for free in (1, 2, 9):
        samples = random.normal(size=(40_000, free + 1))
        student = samples.mean(axis=1) / samples.std(axis=1, ddof=1) * np.sqrt(free + 1)
        assert (np.abs(student) < STUDENT_95[free - 1]).mean() == pytest.approx(0.9, abs=0.006)


def test_too_few_patches_are_refused() -> None:
    lab, none = np.full((19, 3), 50.0), np.zeros(19, dtype=bool)
    with pytest.raises(ValueError, match="expected 20 patches or more that both instruments read, got 19"):
        agreement([PairedReading(lab, lab + 1, none, none)])
