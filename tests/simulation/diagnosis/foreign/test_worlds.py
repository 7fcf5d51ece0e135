"""The foreign worlds are what they claim to be: their sources, sizes of stray, faults, and seeds."""

from __future__ import annotations

from functools import cache, partial
from itertools import product

import numpy as np
import pytest

from sentinel.core.colour.difference import de00
from sentinel.core.verdict import Verdict
from tests.simulation.diagnosis.foreign import cells
from tests.simulation.diagnosis.foreign.asking import Asked, Called, asked
from tests.simulation.diagnosis.foreign.cases import (
    MOVEMENTS,
    SEVERITY,
    SPLIT,
    WORLDS,
    ForeignCase,
    World,
    bare,
    draw,
    room_of,
)
from tests.simulation.diagnosis.foreign.charts import STRIP, ink_chart, rgb_chart
from tests.simulation.diagnosis.foreign.faults import KINDS, PAPERS, Gauge, Subject, read_under, scene_under
from tests.simulation.diagnosis.foreign.judging import Judged, Share, reliability, share
from tests.simulation.diagnosis.foreign.oracle import oracle
from tests.simulation.diagnosis.foreign.page import page
from tests.simulation.diagnosis.foreign.press import (
    STRENGTH,
    Shares,
    drawn_stray,
    lab_of,
    plain_scene,
    stray_covariance,
    stray_size,
)
from tests.simulation.diagnosis.foreign.profiled import drawn_driver, drawn_profile
from tests.simulation.diagnosis.foreign.published import TABLES, table, table_press

SEED = 40


@cache
def drawn(world: World, number: int) -> ForeignCase:
    return draw(SEED, world, number)


def cases(world: World) -> list[ForeignCase]:
    """One of every chart, with what is wrong as it comes."""
    return [drawn(world, number) for number in (0, 1, 2, 6, 7, 8, 17, 18)]


@pytest.mark.parametrize("name", TABLES)
def test_a_published_print_is_its_table_at_the_nodes(name: str) -> None:
    """Against FOGRA39L and ANSI CGATS/GRACoL TR 006-2007; the nugget takes the tables' roughness, 0.5 at worst."""
    amounts, lab = table(name)
    off = np.linalg.norm(lab_of(table_press(name).light(amounts, np.ones(4))) - lab, axis=1)
    assert len(amounts) == 1588
    assert off.mean() < 0.05
    assert off.max() < 0.5


def test_a_cellular_print_is_its_table_at_the_nodes_and_its_paper_where_no_ink_is() -> None:
    (scene,) = cells.stocks(np.random.default_rng(SEED), ("C", "M", "Y"), 1)
    press = scene.press
    assert isinstance(press, cells.CellPress)
    nodes = np.array(list(product(press.nodes, repeat=3)))
    light = press.light(nodes, np.ones(3))
    assert np.allclose(light[0], press.paper, atol=1e-9)
    assert np.allclose(light, press._table(np.ones(3)), atol=1e-9)


def test_inks_on_inks_are_thinner_than_their_sum() -> None:
    """What the model of the diagnosis lacks: the density of two solids is less than that of both."""
    found = []
    for number in range(6):
        (scene,) = cells.stocks(np.random.default_rng([SEED, number]), ("C", "M", "Y"), 1)
        light = scene.light(np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]], dtype=float))
        density = -np.log10(light / light[0]).mean(axis=1)
        found.append(density[3] / (density[1] + density[2]))
    assert np.mean(found) < 0.97


@pytest.mark.parametrize("world", WORLDS)
def test_sheets_stray_by_what_is_told(world: World) -> None:
    """Around the print they are of; the bounds are those of `MOVEMENTS`, the instrument adds a little."""
    for case in cases(world):
        if case.faults:
            continue
        still = lab_of(case.own.light(case.room.amounts))
        found = float(de00(still, case.read).mean())
        assert found == pytest.approx(case.movement, rel=0.1, abs=0.03)
        assert MOVEMENTS["again"][0] <= case.movement <= MOVEMENTS["large"][1]


@pytest.mark.parametrize(("part", "alike"), [("inks", True), ("field", True), ("patches", False)])
def test_stray_is_of_inks_of_the_field_and_of_patches(part: str, alike: bool) -> None:
    """Neighbours on the sheet stray alike in what is of inks or of the field, and not in what is of patches."""
    rng = np.random.default_rng(SEED)
    layout = ink_chart(rng, ("C", "M", "Y", "K"), "full", True)
    shares = {name: float(name == part) for name in ("inks", "field", "patches")}
    stray = [drawn_stray(rng, layout.places, 4, Shares(**shares)).strength for _ in range(40)]
    along = np.concatenate([each[layout.along] for each in stray], axis=1)
    neighbours = np.corrcoef(along[:-1].ravel(), along[1:].ravel())[0, 1]
    assert (neighbours > 0.8) if alike else (abs(neighbours) < 0.1)


def test_a_stray_is_made_as_large_as_is_wanted() -> None:
    rng = np.random.default_rng(SEED)
    scene = plain_scene(table_press("TR006"), np.ones(4))
    layout = ink_chart(rng, scene.press.inks, "short", True)
    amounts = layout.device / 100.0
    for wanted in (0.2, 1.0):
        stray = drawn_stray(rng, layout.places, 4, Shares(0.3, 0.3, 0.4))
        stray = stray.times(stray_size(scene, amounts, stray, wanted))
        found = float(de00(lab_of(scene.light(amounts)), lab_of(scene.light(amounts, stray))).mean())
        assert found == pytest.approx(wanted, rel=0.1)


@pytest.mark.parametrize("world", WORLDS)
@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in ("order", "outlying")])
def test_faults_of_the_paper_move_bare_stock_and_those_of_inks_leave_it(world: World, kind: str) -> None:
    case = next(each for each in cases(world) if bare(each.room).any())
    subject = case.subject
    fault = KINDS[kind](np.random.default_rng(SEED), subject)
    moved = de00(lab_of(subject.light({})), lab_of(subject.light({fault: 0.3 * fault.greatest})))
    stock = bare(case.room)
    assert moved.max() > 0.5
    assert (moved[stock].min() > 0.2) if kind in PAPERS else (moved[stock].max() < 1e-6)


def test_a_tone_fault_leaves_solids_and_a_solid_fault_moves_its_own() -> None:
    scene = plain_scene(table_press("FOGRA39L"), np.ones(4))
    solids = np.eye(4)
    layout = ink_chart(np.random.default_rng(SEED), scene.press.inks, "short", True)
    subject = Subject([scene], layout, layout.device / 100.0, True)
    for kind in ("tone", "solid"):
        fault = KINDS[kind](np.random.default_rng(SEED), subject)
        moved = de00(lab_of(scene.light(solids)), lab_of(fault.scene(scene, 0.1).light(solids)))
        assert (moved > 0.5).sum() == (1 if kind == "solid" else 0)


def test_a_misread_sheet_holds_the_same_readings_and_few_patches_are_outlying() -> None:
    subject = drawn("cells", 0).subject
    light = subject.light({})
    for number in range(8):
        rng = np.random.default_rng(number)
        order, outlying = KINDS["order"](rng, subject), KINDS["outlying"](rng, subject)
        read = order.reading(light, 0.0)
        assert {row.tobytes() for row in read} <= {row.tobytes() for row in light}
        assert (read != light).any()
        assert 1 <= (outlying.reading(light, 0.5) != light).any(axis=1).sum() <= 5


@pytest.mark.parametrize("world", WORLDS)
def test_faults_are_as_large_as_is_told(world: World) -> None:
    """Single ones, without stray, of 1.1 to 3 of the house's warning limits, found within a twelfth."""
    for case in cases(world):
        if len(case.faults) != 1 or case.small:
            continue
        amounts = case.room.amounts
        light = read_under(case.faults, scene_under(case.faults, case.own).light(amounts))
        found = Gauge(case.room.layout, lab_of(case.own.light(amounts))).severity(lab_of(light))
        assert found >= SEVERITY[0] * 11 / 12
        (fault,) = case.faults
        assert not fault.greatest or found <= SEVERITY[1] * 13 / 12


@pytest.mark.parametrize("world", WORLDS)
def test_the_same_seed_draws_the_same_check_and_another_one_another(world: World) -> None:
    room_of.cache_clear()
    again, other = draw(SEED, world, 7), draw(SEED + 1, world, 7)
    assert again is not drawn(world, 7)
    assert again.read.tolist() == drawn(world, 7).read.tolist()
    assert again.named == drawn(world, 7).named
    assert again.read.tolist() != other.read.tolist()


def test_charts_have_the_sizes_that_are_told() -> None:
    rng = np.random.default_rng(SEED)
    for inks in cells.INK_SETS:
        full, short, strip = (ink_chart(rng, inks, kind, True) for kind in ("full", "short", "strip"))
        assert 200 <= len(full) <= 700
        assert 50 <= len(short) <= 60
        assert len(strip) == STRIP
        assert all((chart.device.max(axis=0) == 100).all() for chart in (full, short, strip))
    full, short, strip = (rgb_chart(rng, kind, True) for kind in ("full", "short", "strip"))
    assert (len(full) > 300, len(short), len(strip)) == (True, 60, STRIP)
    without = ink_chart(rng, ("C", "M", "Y", "K"), "strip", False)
    assert (without.device.max(axis=1) > 0).all()


def test_a_profile_leaves_white_bare_and_makes_black_of_deep_grey() -> None:
    for number in range(10):
        profile = drawn_profile(np.random.default_rng(number), ("C", "M", "Y", "K", "LC", "LM"))
        white, grey, cyan = profile.amounts(np.array([[255, 255, 255], [20, 20, 20], [0, 255, 255]], dtype=float))
        assert (white == 0).all()
        assert grey[3] > 0.4
        assert cyan[0] > 0.9
        assert (profile.amounts(np.random.default_rng(0).uniform(0, 255, (50, 3))) >= 0).all()


def called(*findings: tuple[str, float], verdict: Verdict = Verdict.FAIL) -> Asked:
    told = tuple(Called(cause, confidence) for cause, confidence in findings)
    return Asked(told, tuple(each.cause for each in told[:1]), verdict, 0.1)


TONE = (frozenset({"tone-shift", "print-moved"}),)


def judged(said: Asked, truths: tuple[frozenset[str], ...] = TONE) -> Judged:
    return Judged("rgb", "tone", ("tone",), truths, frozenset(), "full", 0.4, 2.0, said)


def test_every_cause_that_names_the_truth_is_right_and_any_other_is_confidently_wrong() -> None:
    right, wrong = judged(called(("print-moved", 0.95))), judged(called(("substrate-shade", 0.95)))
    assert (right.right, right.confidently_wrong) == (True, False)
    assert (wrong.right, wrong.confidently_wrong) == (False, True)
    assert not judged(called(("substrate-shade", 0.85))).confidently_wrong
    two = (*TONE, frozenset({"patch-order"}))
    assert judged(called(("tone-shift", 0.95)), two).found == 1


def test_shares_come_with_wilsons_interval() -> None:
    """5 of 10 and 0 of 10, from Agresti and Coull, Am. Stat. 52, 1998 (from memory)."""
    assert Share(5, 10).interval == pytest.approx((0.2366, 0.7634), abs=5e-5)
    assert Share(0, 10).interval == pytest.approx((0.0, 0.2775), abs=5e-5)


def test_the_page_compares_the_worlds() -> None:
    several = [judged(called(("tone-shift", 0.97))), judged(called(("substrate-shade", 0.97))), judged(called())]
    text = page({"rgb": several, "cells": several[:1]}, "By hand.")
    assert (
        "| true cause in the answer: full charts, movement to 0.6 | at least 90 % | 33.3 % (6 to 79) of 3 | 100.0 %"
        in text
    )
    assert (
        "| confidently wrong, of all checks | at most 1 %, rgb 2 % | 33.3 % (6 to 79) of 3 | 0.0 % (0 to 79) of 1 |"
        in text
    )
    assert "| warned or failed without a finding | none | 33.3 %" in text
    (bin_,) = reliability(several)
    assert (bin_.findings, bin_.true) == (2, 1)
    assert share(several, lambda _: False, lambda _: True) == Share(0, 0)


def test_the_oracle_knows_the_truth_of_plain_cases() -> None:
    strips = [drawn(world, number) for world in WORLDS if world != "split" for number in (17, 18)]
    told = [oracle(case) for case in strips]
    assert [each == () for each in told] == [not case.faults for case in strips]
    assert all(case.truths[0] & set(said or ()) for case, said in zip(strips, told, strict=True) if case.faults)
    two = next(each for each in map(partial(drawn, "cells"), range(20)) if len(each.faults) == 2)
    assert oracle(two) is None


def test_the_covariance_of_strays_is_that_of_their_field() -> None:
    """Over many draws, patch with patch, within the error of so many."""
    rng = np.random.default_rng(SEED)
    layout = ink_chart(rng, ("C", "M", "Y", "K"), "strip", True)
    shares = Shares(0.3, 0.4, 0.3)
    many = np.stack([drawn_stray(rng, layout.places, 40, shares).strength / STRENGTH for _ in range(50)], axis=2)
    found = np.cov(many.reshape(len(layout), -1))
    assert found == pytest.approx(stray_covariance(layout.places, shares), abs=0.12)


def test_a_check_is_asked_as_the_project_asks_it() -> None:
    case = drawn("published", 6)
    said = asked(case)
    assert said.verdict in Verdict
    assert set(said.answer) <= {each.cause for each in said.findings}
    assert said.seconds > 0


def test_a_driver_lays_light_inks_in_light_tones_and_dark_ones_in_dark_tones() -> None:
    """Not as the diagnosis expects: both lie together over a third of the scale or more, neither by straight lines."""
    tones = np.column_stack([np.linspace(0, 100, 101), *[np.zeros(101)] * 3])
    for seed in range(20):
        laid = drawn_driver(np.random.default_rng(seed), 6, SPLIT).amounts(tones)
        light, dark = laid[:, 4], laid[:, 0]
        assert ((laid >= 0) & (laid <= 1)).all()
        assert (np.diff(dark) >= 0).all()
        assert dark[-1] == 1.0
        assert light[1:15].min() > 0
        assert dark[:15].max() == 0
        assert ((light > 0.02) & (dark > 0.02)).sum() > 33
        assert light[-1] < light.max() / 1.5
        assert not laid[:, [1, 2, 3, 5]].any()


def test_a_light_ink_off_moves_light_tones_of_its_ink_and_leaves_inks_that_are_not_split() -> None:
    case = next(each for number in range(400) if "light ink" in (each := drawn("split", number)).named)
    [(fault, size)] = case.faults.items()
    device = case.room.layout.device
    clean, off = (lab_of(case.subject.light(faults)) for faults in ({}, {fault: size}))
    moved = np.linalg.norm(off - clean, axis=1)
    split = device[:, :2].any(axis=1)
    assert moved[~split].max() < 1e-9
    assert moved[split].max() > 1.0
    assert case.truths == [frozenset({"light-ink"})]
