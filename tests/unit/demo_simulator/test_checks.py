"""Sheets, files and labelled checks."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

from demo.simulator.charts import short_chart
from demo.simulator.checks import draw_check
from demo.simulator.drawing import CASES, LEAST
from demo.simulator.files import Export, cgats, names_in_file
from demo.simulator.sheets import Instrument, Response, SheetNoise, read
from demo.simulator.spectra import WAVELENGTHS_NM, FloatArray, lab_of
from sentinel.core.colour.difference import de00
from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import measurements
from sentinel.core.measurement.cgats import read as read_cgats
from tests.simulation.diagnosis.samples import Sample
from tests.simulation.diagnosis.worlds import FITTING, HELD_OUT
from tests.unit.demo_simulator.scenes import PLAN, chart, inks, scene

CHART = chart()
RESPONSE = Response(scene(), CHART)


def measured(text: str) -> Measurement:
    return measurements(read_cgats(text.encode()))[0]


def strayed(seed: int, noise: SheetNoise) -> FloatArray:
    return RESPONSE.sheet(np.random.default_rng(seed), noise)


@pytest.mark.parametrize("wanted", [0.3, 0.6])
def test_a_sheet_strays_by_the_wanted_mean(wanted: float) -> None:
    for seed in range(5):
        sheet = RESPONSE.spectra * strayed(seed, SheetNoise(wanted))
        assert de00(lab_of(RESPONSE.spectra), lab_of(sheet)).mean() == pytest.approx(wanted, rel=0.02)


def test_neighbours_on_the_sheet_stray_alike() -> None:
    smooth = SheetNoise(0.5, field=0.9, inks=0.0)
    middle = int(np.argmin(np.abs(WAVELENGTHS_NM - 550)))
    strays = np.log(np.array([strayed(seed, smooth)[:, middle] for seed in range(60)]))
    correlation = np.corrcoef(strays.T)
    distance = np.linalg.norm(CHART.places[:, None] - CHART.places[None], axis=2)
    inked = CHART.device.sum(axis=1) > 0
    pairs = inked[:, None] & inked[None]
    assert correlation[pairs & (distance > 0) & (distance < 0.4)].mean() > 0.2
    assert abs(correlation[pairs & (distance > 1.5)].mean()) < 0.2


def test_an_instrument_scatters_by_less_than_a_tenth() -> None:
    seen = read(np.random.default_rng(1), RESPONSE.spectra, Instrument())
    assert 0.0 < de00(lab_of(RESPONSE.spectra), lab_of(seen)).mean() < 0.1


@pytest.mark.parametrize("count", [4, 6, 8])
def test_a_written_reading_reads_back(count: int) -> None:
    of = chart(count)
    spectra = np.random.default_rng(2).uniform(0.01, 0.9, (len(of), 36))
    found = measured(cgats(of, spectra, Export(mode="M2")))
    assert found.reflectance is not None
    np.testing.assert_allclose(found.reflectance, spectra, atol=0.5e-4)
    np.testing.assert_allclose(found.chart.device, of.device)
    assert found.chart.inks == names_in_file(of.inks)
    assert found.chart.positions == tuple(of.labels)
    assert found.condition.m == "M2"


def test_a_lab_export_holds_no_spectra() -> None:
    found = measured(cgats(CHART, RESPONSE.spectra, Export("Lab", places=False, mode=None)))
    assert found.reflectance is None
    assert found.lab is not None
    np.testing.assert_allclose(found.lab, lab_of(RESPONSE.spectra), atol=0.0051)
    assert found.chart.positions is None
    assert found.condition.m is None


@pytest.mark.parametrize("count", [4, 6, 8])
def test_charts_hold_paper_every_solid_and_no_place_twice(count: int) -> None:
    names = inks(count).names
    for of in (chart(count), short_chart(np.random.default_rng(1), names, PLAN)):
        solids = {int(np.argmax(row)) for row in of.device if (row > 0).sum() == 1 and row.max() == 100}
        assert solids == set(range(count))
        assert (of.device.sum(axis=1) == 0).sum() >= 2
        assert len(set(of.labels)) == len(of)
    assert len(short_chart(np.random.default_rng(1), names, PLAN)) == 60


@pytest.mark.parametrize("case", sorted(CASES))
def test_a_drawn_fault_is_beyond_the_warning_limits_and_the_same_again(case: str) -> None:
    first, again = (Sample(FITTING, 7, (case,), "short").draw() for _ in range(2))
    assert first.severity >= LEAST - 0.011
    assert first.labels == again.labels
    assert len(first.labels) == 1
    np.testing.assert_array_equal(first.reading, again.reading)


def test_another_number_is_another_check() -> None:
    first, second = (draw_check(FITTING, number, ["healthy"], "short") for number in (3, 3 + FITTING.rooms))
    assert first.room is second.room
    assert not np.array_equal(first.reading, second.reading)


@pytest.mark.parametrize("case", ["healthy", "recalibrated"])
def test_a_healthy_check_strays_from_an_aim_printed_for_itself(case: str) -> None:
    check = draw_check(HELD_OUT, 4, [case], "short")
    off = de00(lab_of(check.aim), lab_of(check.reading))
    assert check.labels == ()
    assert 0.2 < off.mean() < 1.4


def test_a_check_on_a_wrong_substrate_holds_that_substrates_aim_among_its_rivals() -> None:
    check = draw_check(FITTING, 5, ["wrong substrate"], "short")
    assert check.true_rival in check.rivals
    aims = {name: measured(text).lab for name, text in check.rivals.items()}
    assert len(aims) == 3


def test_the_texts_of_a_check_hold_its_arrays() -> None:
    check = draw_check(HELD_OUT, 2, ["solid off"], "short")
    for text, spectra in ((check.file, check.reading), (check.target, check.aim)):
        found = measured(text).reflectance
        assert found is not None
        np.testing.assert_allclose(found, spectra, atol=0.5e-4)
    assert check.labels[0].ink in check.inks


def test_printing_again_through_other_curves_prints_those_amounts() -> None:
    check = draw_check(FITTING, 4, ["healthy"], "short")
    same, lighter = (check.printed_again(1, device) for device in (None, 0.7 * check.chart.device))
    assert de00(lab_of(check.aim), lab_of(same)).mean() < 1.4
    inked = check.chart.device.sum(axis=1) > 0
    assert (lab_of(lighter)[inked, 0] > lab_of(same)[inked, 0]).mean() > 0.95
    assert not np.array_equal(same, check.printed_again(2))


def test_the_program_knows_nothing_of_the_simulator() -> None:
    root = Path(__file__).parents[3] / "sentinel"
    named = {
        name.partition(".")[0]
        for path in root.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        for name in _imported(node)
    }
    assert "numpy" in named
    assert not named & {"demo", "tests"}


def _imported(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    return [node.module] if isinstance(node, ast.ImportFrom) and node.module else []
