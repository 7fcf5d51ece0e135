"""The model of a print against its published formulas and against published prints."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from demo.simulator.inks import draw_inks
from demo.simulator.neugebauer import demichel, overprints, yule_nielsen
from demo.simulator.press import Curve
from demo.simulator.solids import absorption_over_scattering, filtered, infinite_reflectance
from demo.simulator.spectra import WAVELENGTHS_NM, FloatArray, lab_of
from sentinel.core.colour.difference import de00
from sentinel.core.colour.lab import lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.colour.tone import murray_davies
from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import measurements, read
from tests.support.whites import D50_ICC
from tests.unit.demo_simulator.scenes import CHEMISTRY, inks, paper, plain_press, press

DATASETS = Path(__file__).parents[2] / "data" / "datasets"
STEPS = np.array([10.0, 40.0, 70.0, 95.0])


@pytest.fixture(scope="module")
def fogra39l() -> Measurement:
    return measurements(read((DATASETS / "FOGRA39L.txt").read_bytes()))[0]


@settings(max_examples=50)
@given(arrays(float, (3, 5), elements=st.floats(0.0, 1.0)))
def test_the_areas_of_paper_and_overprints_add_to_one(coverage: FloatArray) -> None:
    areas = demichel(coverage)
    assert areas.shape == (3, 32)
    assert (areas >= 0).all()
    np.testing.assert_allclose(areas.sum(axis=1), 1.0, rtol=1e-12)


# Source: Demichel's equations for three inks, as every review of Neugebauer's model prints them (Wyble and Berns 2000).
def test_three_inks_cover_the_areas_of_demichels_equations() -> None:
    c, m, y = 0.2, 0.5, 0.9
    wanted = {
        (0, 0, 0): (1 - c) * (1 - m) * (1 - y), (1, 0, 0): c * (1 - m) * (1 - y), (0, 1, 0): (1 - c) * m * (1 - y),
        (0, 0, 1): (1 - c) * (1 - m) * y, (1, 1, 0): c * m * (1 - y), (1, 0, 1): c * (1 - m) * y,
        (0, 1, 1): (1 - c) * m * y, (1, 1, 1): c * m * y,
    }  # fmt: skip
    found = dict(zip(map(tuple, overprints(3).astype(int).tolist()), demichel(np.array([[c, m, y]]))[0], strict=True))
    assert found == pytest.approx(wanted)


# Source: Neugebauer 1937: colour values of a halftone are those of its primaries in the shares of their areas.
def test_n_of_one_is_neugebauers_sum_in_tristimulus_values() -> None:
    plain = plain_press(n=1.0)
    device = np.array(list(itertools.product((0.0, 35.0, 80.0, 100.0), repeat=4)))
    primaries = xyz_from_reflectance(plain.primaries("M2"), WAVELENGTHS_NM)
    wanted = demichel(device / 100.0) @ primaries
    np.testing.assert_allclose(xyz_from_reflectance(plain.spectra(device, "M2"), WAVELENGTHS_NM), wanted, rtol=1e-10)


# Source: Murray 1936 and, with n, Yule and Nielsen 1951, in functions that have checks of their own.
@pytest.mark.parametrize("n", [1.0, 1.7, 2.4])
@pytest.mark.parametrize("ink", range(4))
def test_densities_of_one_ink_give_back_its_coverage(n: float, ink: int) -> None:
    device = np.zeros((len(STEPS) + 2, 4))
    device[:, ink] = [0.0, 100.0, *STEPS]
    density = -np.log10(plain_press(n).spectra(device, "M2"))
    band = int(np.argmax(density[1] - density[0]))
    tone = murray_davies(density[2:, band] / n, density[1, band] / n, density[0, band] / n)
    np.testing.assert_allclose(tone, STEPS, rtol=1e-9)


# Source: Kubelka and Munk 1931. K/S = 1 reflects 2 - sqrt(3); a reflectance of one half has K/S = 1/4.
def test_the_reflectance_of_a_thick_layer_is_that_of_kubelka_and_munk() -> None:
    assert infinite_reflectance(np.array(1.0)) == pytest.approx(2 - np.sqrt(3))
    assert absorption_over_scattering(np.array(0.5)) == pytest.approx(0.25)


# Source: Beer-Lambert: absorbance is proportional to the amount, and amounts of several inks add.
def test_densities_of_inks_grow_with_their_amounts_and_add() -> None:
    ink_set = inks()
    below = paper().body()
    layers = np.array([[1.0, 0, 0, 0], [2.0, 0, 0, 0], [0, 1.0, 0, 0], [1.0, 1.0, 0, 0]])
    density = -np.log10(filtered(below, layers, ink_set) / below)
    np.testing.assert_allclose(density[1], 2.0 * density[0])
    np.testing.assert_allclose(density[3], density[0] + density[2])


def test_both_laws_agree_about_a_single_solid_on_a_perfect_white() -> None:
    white, solid = np.ones(len(WAVELENGTHS_NM)), np.eye(4)
    first, second = (filtered(white, solid, inks(law=law)) for law in ("beer-lambert", "kubelka-munk"))
    np.testing.assert_allclose(first, second, rtol=1e-9)


def test_the_model_predicts_the_published_prints_of_fogra39l(fogra39l: Measurement) -> None:
    """All 1617 patches from paper, 15 solids and overprints, and the tone scales of four inks, with n = 2.

    Source: FOGRA39L, see tests/data/datasets. Mean ΔE00 1.6, n = 1 gives 2.1 (computed here; the bound is ours).
    """
    assert fogra39l.xyz is not None
    device, published = fogra39l.chart.device / 100.0, fogra39l.xyz
    lab = lab_from_xyz(published, D50_ICC)
    with_n, without = (
        float(de00(lab, lab_from_xyz(_predicted(device, published, n), D50_ICC)).mean()) for n in (2.0, 1.0)
    )
    assert with_n < 1.7
    assert with_n < without - 0.3


def _predicted(device: FloatArray, xyz: FloatArray, n: float) -> FloatArray:
    primaries = np.array([xyz[(device == made).all(axis=1)].mean(axis=0) for made in overprints(4)])
    coverage = np.zeros_like(device)
    for ink in range(4):
        alone = np.delete(device, ink, axis=1).sum(axis=1) == 0
        paper, solid = primaries[0] ** (1 / n), primaries[2 ** (3 - ink)] ** (1 / n)
        share = (xyz[alone] ** (1 / n) - paper) @ (solid - paper) / ((solid - paper) @ (solid - paper))
        tones, first = np.unique(device[alone, ink], return_index=True)
        coverage[:, ink] = np.interp(device[:, ink], tones, np.clip(share[first], 0.0, 1.0))
    return yule_nielsen(demichel(coverage), primaries, n)


# Source: FOGRA39L, see tests/data/datasets: inkjet solids are stronger, but of the same hues (common practice).
def test_process_solids_and_their_overprints_have_the_hues_of_published_ones(fogra39l: Measurement) -> None:
    assert fogra39l.lab is not None
    solids = np.array([made for made in itertools.product((0.0, 100.0), repeat=3) if 0 < sum(made) < 300])
    device = np.column_stack((solids, np.zeros(len(solids))))
    published = np.array([fogra39l.lab[(fogra39l.chart.device == row).all(axis=1)][0] for row in device])
    off = _hue(lab_of(press().spectra(device, "M1"))) - _hue(published)
    assert np.abs((off + 180.0) % 360.0 - 180.0).max() < 25.0


def _hue(lab: FloatArray) -> FloatArray:
    hue: FloatArray = np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))
    return hue


# Source: ISO 13655: M1 has the ultraviolet of D50, M2 none, M0 that of an incandescent lamp, in between (from memory).
def test_a_brightener_shows_in_its_bands_alone_and_makes_paper_bluer_the_more_ultraviolet_there_is() -> None:
    bare = np.zeros((1, 4))
    read_under = {mode: press().spectra(bare, mode)[0] for mode in ("M0", "M1", "M2")}
    added = read_under["M1"] - read_under["M2"]
    assert WAVELENGTHS_NM[int(np.argmax(added))] in (430.0, 440.0, 450.0)
    assert added[WAVELENGTHS_NM >= 580].max() < 0.001
    b_star = [lab_of(read_under[mode][None])[0, 2] for mode in ("M1", "M0", "M2")]
    assert b_star == sorted(b_star)
    plain = press(paper("cotton"))
    np.testing.assert_array_equal(plain.spectra(bare, "M1"), plain.spectra(bare, "M2"))


def test_ink_hides_the_brightener() -> None:
    device = np.array([[0.0, 0, 0, 0], [0, 0, 50, 0], [0, 0, 100, 0]])
    added = (press().spectra(device, "M1") - press().spectra(device, "M2")).max(axis=1)
    assert added[0] > added[1] > added[2]


@pytest.mark.parametrize("curve", ["parabola", "exposure"])
def test_tone_curves_rise_all_the_way_and_leave_paper_and_solid_alone(curve: Curve) -> None:
    printed = replace(press(), curve=curve)
    device = np.repeat(np.linspace(0.0, 100.0, 101)[:, None], 4, axis=1)
    for gain in (-0.12, 0.0, 0.12):
        coverage = replace(printed, gain=np.full(4, gain)).coverage(device)
        assert (np.diff(coverage, axis=0) >= 0).all()
        np.testing.assert_allclose(coverage[[0, -1]], [[0.0] * 4, [1.0] * 4], atol=1e-12)


@pytest.mark.parametrize("curve", ["parabola", "exposure"])
def test_dot_gain_is_what_is_added_at_half_coverage(curve: Curve) -> None:
    flat = replace(press(replace(paper(), gain=0.1)), curve=curve, gain=np.zeros(4), skew=np.zeros(4))
    np.testing.assert_allclose(flat.coverage(np.full((1, 4), 50.0)), 0.6)


@pytest.mark.parametrize("count", [4, 6, 8])
def test_solids_of_a_set_are_told_apart(count: int) -> None:
    drawn = draw_inks(np.random.default_rng(3), CHEMISTRY, count)
    lab = lab_of(press(ink_set=drawn).spectra(100.0 * np.eye(count), "M1"))
    apart = [de00(lab[a], lab[b][None])[0] for a, b in itertools.combinations(range(count), 2)]
    assert min(apart) > 8.0
