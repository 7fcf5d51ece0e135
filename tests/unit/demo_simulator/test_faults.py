"""Each fault does what it says, where it says, and comes to the size that was wanted."""

from __future__ import annotations

import numpy as np
import pytest

from demo.simulator.charts import Chart
from demo.simulator.faults import Fault, Label, Scene, Sign
from demo.simulator.print_faults import (
    Drift,
    HeadWear,
    Humidity,
    LightInkOff,
    NewLot,
    SolidOff,
    ToneShift,
    Wet,
    WrongMode,
    WrongSubstrate,
)
from demo.simulator.reading_faults import NozzleLine, RowsShifted, Scratch, SheetTurned, StripBackwards, WrongScale
from demo.simulator.sizes import Gauge, NotReachableError, faulty, sized
from demo.simulator.spectra import FloatArray, lab_of
from tests.unit.demo_simulator.scenes import chart, paper, scene

SCENE, CHART = scene(), chart()
GAUGE = Gauge(SCENE, CHART)
GOOD = GAUGE.spectra
MAGENTA = CHART.device[:, 1] > 0
SOLID = (CHART.device.max(axis=1) == 100) & ((CHART.device > 0).sum(axis=1) == 1)
PAPER = CHART.device.sum(axis=1) == 0


def read(*faults: Fault, on: Chart = CHART, of: Scene = SCENE) -> FloatArray:
    return faulty(of, on, faults)


def test_without_a_size_nothing_is_wrong() -> None:
    for fault in (
        SolidOff(ink=1, sign=-1), HeadWear(ink=2), Drift(ink=0, sign=1, others=(0.5,) * 4), ToneShift(ink=3, sign=1),
        Humidity(sign=1), Wet(), NewLot(white=1.0, tint=1.0, brightener=1.0), WrongScale(sign=1),
        Scratch(start=0.5, patches=2), NozzleLine(ink=1, start=0.2, patches=2),
    ):  # fmt: skip
        np.testing.assert_allclose(read(fault), GOOD, rtol=1e-12)


def test_a_solid_off_changes_only_what_holds_its_ink() -> None:
    weak = read(SolidOff(ink=1, sign=-1, size=0.2))
    np.testing.assert_array_equal(weak[~MAGENTA], GOOD[~MAGENTA])
    assert (weak[MAGENTA] >= GOOD[MAGENTA]).all()
    assert (read(SolidOff(ink=1, sign=1, size=0.2))[MAGENTA] <= GOOD[MAGENTA]).all()


def test_a_worn_head_leaves_its_solid_lighter() -> None:
    rows = SOLID & MAGENTA
    assert (lab_of(read(HeadWear(ink=1, size=0.1))[rows])[:, 0] > lab_of(GOOD[rows])[:, 0] + 1.0).all()


def test_a_tone_shift_leaves_solids_and_paper_right() -> None:
    darker = read(ToneShift(ink=1, sign=1, skew=0.1, size=0.08))
    np.testing.assert_allclose(darker[SOLID | PAPER], GOOD[SOLID | PAPER])
    middle = (CHART.device[:, 1] == 50) & (CHART.device.sum(axis=1) == 50)
    assert (lab_of(darker[middle])[:, 0] < lab_of(GOOD[middle])[:, 0] - 1.0).all()


@pytest.mark.parametrize(("sign", "blocked"), [(1, False), (-1, False), (-1, True)])
def test_a_light_ink_off_moves_light_tones_and_leaves_full_ones_right(sign: Sign, blocked: bool) -> None:
    fault = LightInkOff(ink=1, sign=sign, alone=0.2, until=0.7, density=0.3, blocked=blocked, size=0.4)
    off, amount = read(fault), CHART.device[:, 1]
    np.testing.assert_allclose(off[(amount >= 70) | (amount == 0)], GOOD[(amount >= 70) | (amount == 0)], rtol=1e-9)
    light = (amount > 0) & (amount <= 40) & (CHART.device.sum(axis=1) == amount)
    moved = sign * (lab_of(GOOD[light])[:, 0] - lab_of(off[light])[:, 0])
    assert (moved > 0).all()
    assert moved.max() > 0.5
    assert fault.label(("C", "M", "Y", "K")) == Label("light-ink", "M", sign)


def test_a_wet_print_is_darker_and_more_saturated_and_dries() -> None:
    wet, later = (read(Wet(size=0.8, hours=hours)) for hours in (0.0, 2.0))
    lightness = [lab_of(each[SOLID])[:, 0].mean() for each in (wet, later, GOOD)]
    chroma = [np.hypot(*lab_of(each[MAGENTA & SOLID])[:, 1:].T).mean() for each in (GOOD, wet)]
    assert lightness == sorted(lightness)
    assert chroma[0] < chroma[1]


def test_a_new_lot_moves_the_paper_and_keeps_inks_relative_to_it() -> None:
    moved = read(NewLot(white=-1.0, tint=0.0, brightener=0.0, size=0.05))
    ratio = moved / GOOD
    assert ratio[PAPER].max() < 0.97
    above_the_surface = GOOD > 0.1
    wanted = np.broadcast_to(ratio[PAPER][0], ratio.shape)
    np.testing.assert_allclose(ratio[above_the_surface], wanted[above_the_surface], atol=0.02)


def test_a_wrong_substrate_is_printed_on_the_other_paper() -> None:
    other = paper("cotton")
    found = read(WrongSubstrate(paper=other))
    wanted = other.surface + (1.0 - other.surface) * other.body()
    np.testing.assert_allclose(found[PAPER], np.broadcast_to(wanted, found[PAPER].shape))


def test_a_wrong_mode_is_the_other_modes_reading() -> None:
    np.testing.assert_array_equal(read(WrongMode(mode="M2")), SCENE.press.spectra(CHART.device, "M2"))


def test_a_wrong_scale_is_the_same_share_everywhere() -> None:
    np.testing.assert_allclose(read(WrongScale(sign=-1, size=0.07)) / GOOD, 0.93)


@pytest.mark.parametrize("way", ["file", "layout"])
def test_a_turned_sheet_turned_again_is_right(way: str) -> None:
    turned = SheetTurned(way="layout" if way == "layout" else "file")
    assert not np.allclose(read(turned), GOOD)
    np.testing.assert_array_equal(read(turned, turned), GOOD)


def test_shifted_rows_have_their_neighbours_readings_from_the_start_on() -> None:
    first = int(0.5 * len(CHART))
    late, early = (read(RowsShifted(start=0.5, by=by)) for by in (1, -1))
    np.testing.assert_array_equal(late[first + 1 :], GOOD[first:-1])
    np.testing.assert_array_equal(early[first:-1], GOOD[first + 1 :])
    np.testing.assert_array_equal(late[:first], GOOD[:first])


def test_a_strip_backwards_changes_that_strip_of_the_layout() -> None:
    found = read(StripBackwards(strips=(2,), way="layout"))
    strip = CHART.layout_order[CHART.strip[CHART.layout_order] == 2]
    np.testing.assert_array_equal(found[strip], GOOD[strip[::-1]])
    elsewhere = CHART.strip != 2
    np.testing.assert_array_equal(found[elsewhere], GOOD[elsewhere])


def test_damage_stays_on_its_few_patches() -> None:
    for fault in (Scratch(start=0.4, patches=3, size=0.5), NozzleLine(ink=1, start=0.3, patches=3, size=0.5)):
        changed = ~np.isclose(read(fault), GOOD).all(axis=1)
        assert 1 <= changed.sum() <= 3


@pytest.mark.parametrize("wanted", [1.1, 2.0])
@pytest.mark.parametrize(
    "fault",
    [
        SolidOff(ink=0, sign=1), HeadWear(ink=3), ToneShift(ink=1, sign=-1), Wet(),
        NewLot(white=0.3, tint=0.8, brightener=0.0), WrongScale(sign=1), Humidity(sign=-1),
        Scratch(start=0.3, patches=2),
    ],
)  # fmt: skip
def test_a_fault_comes_to_the_wanted_share_of_a_warning_limit(fault: Fault, wanted: float) -> None:
    assert GAUGE.of(sized(GAUGE, fault, wanted)) == pytest.approx(wanted, abs=0.01)


def test_a_fault_that_cannot_be_so_large_is_refused() -> None:
    with pytest.raises(NotReachableError, match="40 warning limits"):
        sized(GAUGE, ToneShift(ink=2, sign=1), 40.0)


def test_labels_name_the_ink_as_the_file_does() -> None:
    inks = ("8CLR_1", "8CLR_2", "8CLR_3", "8CLR_4")
    assert HeadWear(ink=1).label(inks) == Label("solid-off-aim", "8CLR_2", -1)
    assert ToneShift(ink=0, sign=1).label(("C", "M", "Y", "K")) == Label("tone-shift", "C", 1)
    assert Wet().label(inks) == Label("possibly-not-dry")


def test_two_faults_act_together() -> None:
    both = read(SolidOff(ink=1, sign=1, size=0.2), WrongScale(sign=1, size=0.05))
    np.testing.assert_allclose(both, 1.05 * read(SolidOff(ink=1, sign=1, size=0.2)))
