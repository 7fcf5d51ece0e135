"""What moved: constructed sheets of which it is known. Charts, inks and colours are invented."""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Collection
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.diagnosis.moved import moved
from sentinel.core.diagnosis.movement import (
    MOVED_VERSION,
    Direction,
    Movement,
    SheetPart,
    Tone,
    What,
    directions,
    kept_movements,
    most_telling,
    movements_kept,
)
from sentinel.core.diagnosis.parts import parts_of
from sentinel.core.diagnosis.sheet import DiagnosisSubject, Sheet
from sentinel.core.message import Message
from tests.support.amount import amount
from tests.unit.core.diagnosis.sheets import Press, full_chart, lab_of, subject

CHART = full_chart(4, 400)
QUIET = Press(noise=0.0)
NOISE = 0.2
"""Of a component of Lab of a patch, one sheet beside the other."""


def print_of(press: Press = QUIET, *, seed: int = 1, noise: float = NOISE, chart: FloatArray = CHART) -> FloatArray:
    """The Lab of a print of the chart, patches straying by themselves."""
    strays = np.random.default_rng(seed).normal(0, noise, (len(chart), 3))
    return lab_of(press.spectra(chart)) + strays


def sheet_of(reading: FloatArray, chart: FloatArray = CHART) -> DiagnosisSubject:
    """A reading beside the aim, whose places are not known."""
    spectra = QUIET.spectra(chart)
    return replace(subject(chart, spectra, spectra, spectral=False), reading=reading, sheet=None)


def placed(sheet: DiagnosisSubject, order: FloatArray | None = None, columns: int = 20) -> DiagnosisSubject:
    """The same with patches in columns of a chart, in their order or in another."""
    rows = np.arange(len(sheet.aim)) if order is None else np.argsort(np.argsort(order))
    places = np.stack([rows // columns, rows % columns], axis=1).astype(float)
    return replace(sheet, sheet=Sheet(sheet.reading, np.arange(len(sheet.aim)), places))


def parts(found: Collection[Movement]) -> list[SheetPart]:
    return [each.part for each in found]


# --- what moved -------------------------------------------------------------------------------------------------------


def test_paper_alone() -> None:
    reading = print_of()
    paper = (CHART == 0).all(axis=1)
    reading[paper] += (-1.0, 0.0, 4.0)
    [found] = moved(sheet_of(reading), beyond_limit=False)
    assert (found.part, found.count, found.sure) == (SheetPart(What.PAPER), 2, True)
    assert found.direction[0] is Direction.YELLOWER
    aim = sheet_of(reading).aim[paper]
    assert found.de00 == pytest.approx(float(de00(aim, reading[paper]).mean()), rel=0.02)
    assert found.lab == pytest.approx(tuple((reading - sheet_of(reading).aim)[paper].mean(axis=0)))
    assert 0 < found.plus_minus < found.de00


def test_a_solid_and_the_overprints_it_is_in() -> None:
    found = moved(sheet_of(print_of(Press(noise=0.0, strength={1: 0.8}))), beyond_limit=True)
    assert SheetPart(What.SOLID, ink="M") in parts(found)
    [solid] = [each for each in found if each.part == SheetPart(What.SOLID, ink="M")]
    assert Direction.LIGHTER in solid.direction
    assert all("M" in (each.part.ink or "") for each in found if each.part.what in (What.SOLID, What.OVERPRINT))
    assert What.PAPER not in {each.part.what for each in found}


def test_the_tones_of_one_ink_its_solid_in_place() -> None:
    found = moved(sheet_of(print_of(Press(noise=0.0, gain={0: 0.06}))), beyond_limit=True)
    tones = {(each.part.ink, each.part.tone) for each in found if each.part.what is What.TONES}
    assert ("C", Tone.MID) in tones
    assert {ink for ink, _ in tones} == {"C"}
    assert not [each for each in found if each.part.what in (What.SOLID, What.PAPER)]
    assert all(Direction.DARKER in each.direction for each in found if each.part.what is What.TONES)


def test_neutrals_alone() -> None:
    sheet = sheet_of(print_of())
    own, of = parts_of(sheet.inks, sheet.device, sheet.paper, sheet.aim, ink_space=True)
    grey = np.array([part.what is What.NEUTRALS for part in own])[of]
    assert grey.sum() > 5
    reading = sheet.reading + np.outer(grey, (0.0, 4.0, 0.0))
    found = moved(replace(sheet, reading=reading), beyond_limit=False)
    assert {each.part.what for each in found} == {What.NEUTRALS}
    assert all(each.direction == (Direction.REDDER,) for each in found)


def test_largest_comes_first() -> None:
    found = moved(sheet_of(print_of(Press(noise=0.0, strength={1: 0.8, 2: 1.15}))), beyond_limit=True)
    sizes = [each.de00 for each in found]
    assert len(sizes) > 3
    assert sizes == sorted(sizes, reverse=True)


def test_a_few_odd_patches_move_no_part_and_are_named() -> None:
    reading = print_of()
    odd = np.flatnonzero((CHART > 0).sum(axis=1) == 3)[:3]
    reading[odd] += (15.0, 0.0, 0.0)
    [found] = moved(sheet_of(reading), beyond_limit=True)
    assert (found.part.what, found.count, found.sure) == (What.PATCHES, 3, True)
    assert sorted(found.patches) == sorted(f"P{row + 1}" for row in odd)


def test_patches_of_no_value_are_left_out() -> None:
    reading = print_of()
    reading[(CHART == 0).all(axis=1)] += (0.0, 0.0, 5.0)
    reading[np.flatnonzero((CHART > 0).sum(axis=1) == 3)[:5]] = np.nan
    assert parts(moved(sheet_of(reading), beyond_limit=False)) == [SheetPart(What.PAPER)]
    assert moved(sheet_of(np.full_like(reading, np.nan)), beyond_limit=True) == ()


# --- never silent, never surer than it is -----------------------------------------------------------------------------


def test_noise_without_shape_names_the_farthest_patches_and_says_that_no_part_is_sure() -> None:
    found = moved(sheet_of(print_of(noise=4.0, seed=2)), beyond_limit=True)
    assert not [each for each in found if each.sure and each.de00 > 2 * each.plus_minus]
    unsure = moved(sheet_of(print_of(noise=0.1, seed=3)), beyond_limit=True)
    assert [each.sure for each in unsure] == [False, False]
    farthest = next(each for each in unsure if each.part.what is What.PATCHES)
    errors = de00(sheet_of(print_of()).aim, print_of(noise=0.1, seed=3))
    assert farthest.de00 == pytest.approx(float(errors.max()))
    assert farthest.patches[0] == f"P{int(errors.argmax()) + 1}"
    assert "no more than sheets may differ by" in " ".join(str(each.sentence) for each in unsure)


def test_a_healthy_sheet_within_its_limits_seldom_lists_anything() -> None:
    """One sheet in ten by chance at most, as `BY_CHANCE` says; 3 standard deviations of so many sheets are allowed."""
    sheets = amount(60, long=400)
    listed = sum(bool(moved(sheet_of(print_of(seed=seed, noise=0.33)), beyond_limit=False)) for seed in range(sheets))
    assert listed <= 0.1 * sheets + 3 * math.sqrt(0.09 * sheets)


@pytest.mark.parametrize("size", [3.0, 8.0])
def test_an_uncertainty_holds_the_true_movement_nine_times_in_ten(size: float) -> None:
    """Of solid M moved by a known amount, sheet by sheet, with what sheets differ by on top."""
    solid = np.asarray((CHART[:, 1] == 100) & ((CHART > 0).sum(axis=1) == 1))
    aim = sheet_of(print_of()).aim
    random = np.random.default_rng(7)
    sheets, held = amount(100, long=400), 0
    for _ in range(sheets):
        ordinary = random.normal(0, 0.36)
        reading = aim + random.normal(0, 0.33, aim.shape) + np.outer(solid, (-size - ordinary, 0.0, 0.0))
        truth = float(de00(aim[solid], aim[solid] - (size, 0.0, 0.0))[0])
        told = moved(sheet_of(reading), beyond_limit=True)
        [found] = [each for each in told if each.part == SheetPart(What.SOLID, ink="M")]
        held += abs(found.de00 - truth) <= found.plus_minus
    assert held >= 0.9 * sheets - 3 * math.sqrt(0.09 * sheets)


shifts = st.tuples(*[st.floats(-30, 30, allow_nan=False) for _ in range(3)])


@settings(max_examples=amount(40, long=400), deadline=None)
@given(
    patches=st.integers(1, 60),
    inks=st.integers(0, 4),
    ink_space=st.booleans(),
    seed=st.integers(0, 10_000),
    noise=st.sampled_from([0.01, 0.5, 5.0]),
    shift=shifts,
)
def test_beyond_a_limit_something_is_always_told_and_every_figure_is_sound(
    patches: int, inks: int, ink_space: bool, seed: int, noise: float, shift: tuple[float, float, float]
) -> None:
    random = np.random.default_rng(seed)
    aim = np.column_stack([random.uniform(0, 100, patches), *random.uniform(-80, 80, (2, patches))])
    device = random.choice([0.0, 30.0, 70.0, 100.0], (patches, inks))
    paper = np.asarray((device == 0).all(axis=1))
    reading = aim + shift + random.normal(0, noise, aim.shape)
    places = random.permutation(patches)
    sheet = Sheet(reading, np.arange(patches), np.stack([places // 8, places % 8], axis=1).astype(float))
    own = DiagnosisSubject(tuple("CMYK"[:inks]), device, ink_space and inks > 0, paper, aim, reading,
                           sheet=sheet)  # fmt: skip
    found = moved(own, beyond_limit=True)
    assert found
    for each in found:
        figures = (each.de00, each.plus_minus, *each.lab)
        assert all(math.isfinite(figure) for figure in figures)
        assert each.de00 > 0
        assert each.plus_minus > 0
        assert each.count > 0
        assert each.direction or each.part.what is What.PATCHES
        assert str(each.sentence)


# --- charts that are not in ink space ---------------------------------------------------------------------------------

CUBE = np.array(list(itertools.product(np.linspace(0, 255, 6), repeat=3)))
GREYS = np.repeat(np.linspace(10, 245, 12)[:, None], 3, axis=1)
RGB = np.vstack([CUBE, GREYS])


def rgb_lab(gammas: tuple[float, float, float] = (2.2, 2.2, 2.2)) -> FloatArray:
    """Light of three invented primaries, Lab (n, 3)."""
    light = np.stack([(RGB[:, channel] / 255) ** gamma for channel, gamma in enumerate(gammas)], axis=1)
    primaries = np.array([[0.37, 0.19, 0.012], [0.33, 0.61, 0.082], [0.122, 0.052, 0.607]])
    return lab_from_xyz(100 * (light @ primaries) + 0.3, D50_ASTM_E308)


def rgb_sheet(gammas: tuple[float, float, float] = (2.2, 2.2, 2.2)) -> DiagnosisSubject:
    aim = rgb_lab()
    reading = rgb_lab(gammas) + np.random.default_rng(4).normal(0, 0.2, aim.shape)
    paper: BoolArray = np.asarray((RGB >= 255).all(axis=1))
    return DiagnosisSubject(("R", "G", "B"), RGB, False, paper, aim, reading)


def test_corners_and_grey_axis_of_an_rgb_chart() -> None:
    own, of = parts_of(("R", "G", "B"), RGB, np.zeros(len(RGB), dtype=bool), rgb_lab(), ink_space=False)
    corner_of = {tuple(RGB[row]): own[part].region for row, part in enumerate(of)}
    corners = {
        (255.0, 0.0, 0.0): "R", (0.0, 255.0, 0.0): "G", (0.0, 0.0, 255.0): "B",
        (0.0, 255.0, 255.0): "C", (255.0, 0.0, 255.0): "M", (255.0, 255.0, 0.0): "Y", (0.0, 0.0, 51.0): "K",
    }  # fmt: skip
    assert {place: corner_of[place] for place in corners} == corners
    greys = {own[part].tone for row, part in enumerate(of) if np.ptp(RGB[row]) == 0 and own[part].what is What.NEUTRALS}
    assert greys == {Tone.LIGHT, Tone.MID, Tone.DARK}


def test_a_curve_of_one_channel_moves_the_greys_most_and_never_the_paper() -> None:
    found = moved(rgb_sheet((2.2, 2.35, 2.2)), beyond_limit=True)
    assert found[0].part.what is What.NEUTRALS
    assert Direction.REDDER in found[0].direction
    assert not [each for each in found if each.part.what in (What.PAPER, What.SOLID, What.TONES)]
    assert all(each.part.ink is None for each in found)


def test_a_chart_without_device_values_is_told_by_hue_and_lightness() -> None:
    sheet = rgb_sheet()
    bare = replace(sheet, inks=(), device=np.full((len(RGB), 0), np.nan))
    chroma = np.hypot(sheet.aim[:, 1], sheet.aim[:, 2])
    reading = sheet.reading + np.outer((sheet.aim[:, 2] > 20) & (chroma > 25), (-4.0, 0.0, 0.0))
    found = moved(replace(bare, reading=reading), beyond_limit=True)
    assert {each.part.what for each in found} <= {What.COLOURS, What.NEUTRALS}
    assert found[0].part.region in ("reds", "yellows", "greens")


# --- where on the sheet -----------------------------------------------------------------------------------------------


def across(sheet: DiagnosisSubject, axis: int) -> FloatArray:
    """From -1/2 to 1/2 along the columns or rows: (n,)."""
    assert sheet.sheet is not None
    assert sheet.sheet.places is not None
    place = sheet.sheet.places[:, axis]
    return np.asarray((place - place.min()) / np.ptp(place) - 0.5)


def moved_by(sheet: DiagnosisSubject, change: FloatArray) -> DiagnosisSubject:
    assert sheet.sheet is not None
    reading = sheet.reading + change
    return replace(sheet, reading=reading, sheet=replace(sheet.sheet, lab=reading))


@pytest.mark.parametrize(("axis", "region"), [(0, "columns"), (1, "rows")])
def test_a_gradient_is_told_with_its_size_from_end_to_end(axis: int, region: str) -> None:
    sheet = placed(sheet_of(print_of(noise=0.4)))
    found = moved(moved_by(sheet, np.outer(across(sheet, axis), (3.0, 0.0, 0.0))), beyond_limit=False)
    [gradient] = [each for each in found if each.part.what is What.GRADIENT]
    assert gradient.part == SheetPart(What.GRADIENT, region=region)
    assert gradient.direction == (Direction.LIGHTER,)
    # the chart's L* are anywhere, so CIEDE2000 counts 3 of them as 2 to 3
    assert 1.6 < gradient.de00 < 3.0
    assert gradient.lab[0] == pytest.approx(3.0, abs=0.3)


def test_a_band_of_columns_is_told_with_where_it_lies() -> None:
    sheet = placed(sheet_of(print_of(noise=0.4)))
    assert sheet.sheet is not None
    assert sheet.sheet.places is not None
    inside = (sheet.sheet.places[:, 0] >= 8) & (sheet.sheet.places[:, 0] <= 11)
    found = moved(moved_by(sheet, np.outer(inside, (-4.0, 0.0, 0.0))), beyond_limit=False)
    [band] = [each for each in found if each.part.what is What.BAND]
    assert band.part.region == "columns"
    assert band.part.first is not None
    assert band.part.last is not None
    assert 8 <= band.part.first <= band.part.last <= 11
    assert band.direction == (Direction.DARKER,)
    assert f"columns {band.part.first} to {band.part.last}" in str(band.sentence)


def test_nothing_is_said_of_places_that_are_not_known() -> None:
    sheet = placed(sheet_of(print_of(noise=0.4)))
    graded = moved_by(sheet, np.outer(across(sheet, 0), (3.0, 0.0, 0.0)))
    assert graded.sheet is not None
    unplaced = replace(graded, sheet=replace(graded.sheet, places=None))
    assert not [each for each in moved(unplaced, beyond_limit=False) if each.part.what is What.GRADIENT]


FAULTS = [QUIET, Press(noise=0.0, strength={1: 0.8}), Press(noise=0.0, gain={0: 0.06}),
          Press(noise=0.0, paper=np.linspace(0.9, 1.0, 31))]  # fmt: skip


@pytest.mark.parametrize("in_order", [False, True])
@pytest.mark.parametrize("fault", range(len(FAULTS)))
def test_a_fault_of_ink_or_paper_is_no_gradient_even_on_a_sorted_chart(fault: int, in_order: bool) -> None:
    """At most the error rate of 1 % and what so few sheets may show by chance: none of these."""
    order = CHART.argmax(axis=1) * 1000.0 + CHART.max(axis=1) if in_order else None
    for seed in range(amount(12, long=100)):
        sheet = placed(sheet_of(print_of(FAULTS[fault], seed=seed, noise=0.5)), order)
        told = {each.part.what for each in moved(sheet, beyond_limit=True)}
        assert not told & {What.GRADIENT, What.BAND}


# --- words and forms --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("vector", "aim", "told"),
    [
        ((-3.0, 0.2, 0.1), (0.0, 0.0), ("darker",)),
        ((2.0, 0.0, -2.2), (1.0, -1.0), ("bluer", "lighter")),
        ((0.0, 3.0, 0.0), (70.0, -5.0), ("more-saturated",)),
        ((0.0, -3.0, 0.0), (70.0, -5.0), ("less-saturated",)),
        ((0.0, 0.0, 3.0), (70.0, 0.0), ("yellower",)),
        ((0.0, 3.0, 0.0), (0.0, 90.0), ("redder",)),
        ((0.0, -3.0, 0.0), (0.0, 90.0), ("greener",)),
        ((0.0, 3.0, 0.0), (-2.0, -50.0), ("redder",)),
        ((0.0, 0.0, -3.0), (-60.0, 0.0), ("bluer",)),
    ],
)
def test_direction_is_what_a_printer_would_say(
    vector: tuple[float, ...], aim: tuple[float, float], told: tuple[str, ...]
) -> None:
    assert tuple(each.value for each in directions(vector, aim)) == told


def test_json_has_the_sentence_with_what_it_is_made_of_and_the_figures() -> None:
    part = SheetPart(What.TONES, ink="M", tone=Tone.DARK)
    told = Movement(part, 4, 3.126, 0.51, (Direction.DARKER, Direction.REDDER), (-2.5, 1.234, 0.1)).as_json()
    assert {name: value for name, value in told.items() if name != "values"} == {
        "what": "tones", "ink": "M", "region": None, "tone": "dark", "count": 4, "de00": 3.13, "plus_minus": 0.51,
        "sure": True, "direction": ["darker", "redder"], "dl": -2.5, "da": 1.23, "db": 0.1,
        "sentence": "dark tones of M: darker and redder by 3.1 ΔE00 (± 0.5 ΔE00)",
        "pattern": "{part}: {direction} by {size:.1f} ΔE00 (± {give:.1f} ΔE00)",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (SheetPart(What.PAPER), "bare stock"),
        (SheetPart(What.NEUTRALS, tone=Tone.MID), "mid neutrals"),
        (SheetPart(What.OVERPRINT, ink="C+M"), "overprint C+M"),
        (SheetPart(What.OVERPRINT), "overprints of several inks"),
        (SheetPart(What.CORNER, region="R"), "full red"),
        (SheetPart(What.CORNER, region="8CLR_1+8CLR_3"), "8CLR_1+8CLR_3"),
        (SheetPart(What.COLOURS, region="reds", tone=Tone.LIGHT), "light reds"),
        (SheetPart(What.GRADIENT, region="rows"), "from the first to the last row of the chart"),
        (SheetPart(What.BAND, region="rows", first=2, last=5), "rows 2 to 5 of the chart"),
    ],
)
def test_every_part_has_words_that_come_back_from_where_they_were_kept(part: SheetPart, words: str) -> None:
    made = Movement(part, 2, 1.0, 0.5, (Direction.LIGHTER,), (1.0, 0.0, 0.0))
    assert str(made.sentence) == f"{words}: lighter by 1.0 ΔE00 (± 0.5 ΔE00)"
    kept = json.loads(json.dumps(made.as_json()))
    assert Message.from_json({**kept, "message": kept["sentence"]}) == made.sentence


def test_what_is_kept_comes_back_and_another_form_is_not_known() -> None:
    told = [Movement(SheetPart(What.PAPER), 2, 1.0, 0.5, (Direction.LIGHTER,), (1.0, 0.0, 0.0)).as_json()]
    assert movements_kept(kept_movements(told)) == told
    assert movements_kept(kept_movements([])) == []
    assert movements_kept(kept_movements(None)) is None
    assert movements_kept({"version": MOVED_VERSION + 1, "movements": told}) is None


def test_notices_tell_two_things_and_single_inks_before_what_they_print_together() -> None:
    tones, overprint = SheetPart(What.TONES, ink="M", tone=Tone.MID), SheetPart(What.OVERPRINT, ink="C+M")
    told = [
        Movement(part, 2, 5.0 - number, 0.5, (Direction.LIGHTER,), (1.0, 0.0, 0.0)).as_json()
        for number, part in enumerate([overprint, tones, replace(tones, tone=Tone.DARK), SheetPart(What.PAPER)])
    ]
    assert most_telling(told) == [told[1], told[3]]
    assert most_telling(told[:2]) == [told[1], told[0]]
    assert most_telling([]) == []
    assert most_telling(None) is None
