from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import chroma_pairs, cmc, dch, de00, de76, de94, hue_difference

Difference = Callable[[FloatArray, FloatArray], FloatArray]

ALL: list[Difference] = [de76, de94, cmc, de00, dch]


def hue(first: FloatArray, second: FloatArray) -> FloatArray:
    """Delta H*ab."""
    return hue_difference(chroma_pairs((first[:, 1], first[:, 2]), (second[:, 1], second[:, 2])))


labs = arrays(float, (6, 3), elements=st.floats(-100, 100, allow_subnormal=False).map(lambda value: round(value, 6)))


@pytest.mark.parametrize("difference", ALL)
@given(lab=labs)
def test_a_colour_differs_from_itself_by_nothing(difference: Difference, lab: FloatArray) -> None:
    assert difference(lab, lab).tolist() == [0] * 6


@pytest.mark.parametrize("difference", [de76, de00, dch])
@given(first=labs, second=labs)
def test_distances_do_not_ask_which_is_the_reference(
    difference: Difference, first: FloatArray, second: FloatArray
) -> None:
    assert difference(first, second) == pytest.approx(difference(second, first), abs=1e-9)


@given(first=labs, second=labs)
def test_lightness_chroma_and_hue_make_up_the_distance(first: FloatArray, second: FloatArray) -> None:
    chroma = np.hypot(second[:, 1], second[:, 2]) - np.hypot(first[:, 1], first[:, 2])
    squares = (second[:, 0] - first[:, 0]) ** 2 + chroma**2 + hue(first, second) ** 2
    assert np.sqrt(squares) == pytest.approx(de76(first, second), abs=1e-5)


@pytest.mark.parametrize("difference", ALL)
def test_one_reference_stands_for_every_row(difference: Difference) -> None:
    paper = np.array([95.0, 0.0, -2.0])
    samples = np.array([[94.0, 0.5, -3.0], [90.0, 1.0, 2.0]])
    assert difference(paper, samples) == pytest.approx(difference(np.array([paper, paper]), samples))
    assert difference(paper, samples[0]).shape == (1,)


@pytest.mark.parametrize("difference", ALL)
def test_a_missing_value_spoils_its_own_pair_alone(difference: Difference) -> None:
    reference = np.array([[50.0, 10.0, 10.0], [50.0, 10.0, 10.0]])
    sample = np.array([[51.0, np.nan, 11.0], [51.0, 12.0, 11.0]])
    assert np.isnan(difference(reference, sample)).tolist() == [True, False]


@pytest.mark.parametrize("difference", ALL)
def test_no_pairs_have_no_differences(difference: Difference) -> None:
    assert difference(np.empty((0, 3)), np.empty((0, 3))).shape == (0,)


def test_blocks_leave_no_seam() -> None:
    reference = np.random.default_rng(3).uniform(-90, 90, (20_000, 3))
    sample = reference[::-1]
    whole = de00(reference, sample)
    assert whole[8_190:8_195].tolist() == de00(reference[8_190:8_195], sample[8_190:8_195]).tolist()
    assert whole[-1] == whole[0]


def test_hue_difference_is_positive_counter_clockwise_across_the_red_axis_too() -> None:
    below, above = np.array([[50.0, 40.0, -3.0]]), np.array([[50.0, 40.0, 3.0]])
    assert hue(below, above)[0] == pytest.approx(6)
    assert hue(above, below)[0] == pytest.approx(-6)


@pytest.mark.parametrize(("a", "b"), [(30.0, 0.0), (0.0, 30.0), (-1.3, 7.7), (-0.1, 0.0), (20.0, -0.1)])
def test_exactly_opposite_hues_are_decided_by_the_half_turn_the_reference_lies_in(a: float, b: float) -> None:
    sign = 1 if b > 0 or (b == 0 and a > 0) else -1
    difference = hue(np.array([[50.0, a, b]]), np.array([[50.0, -a, -b]]))
    assert difference[0] == pytest.approx(sign * 2 * np.hypot(a, b))


@pytest.mark.parametrize("factor", [0.1, 1 / 3, 5 / 3, 3.7])
def test_opposite_hues_of_unlike_chroma_are_decided_the_same_way(factor: float) -> None:
    """The difference is the one it tends to as the sample turns to the opposite hue from the side it is ahead on."""
    lattice = np.array([(a, b) for a in range(-9, 10) for b in range(-9, 10) if a or b], float)
    a1, b1 = lattice.T
    ahead = (b1 > 0) | ((b1 == 0) & (a1 > 0))
    turn = np.where(ahead, -1e-9, 1e-9)
    reference = np.column_stack([np.full(len(lattice), 50.0), a1, b1])
    opposite = reference * [1, -factor, -factor]
    just_before = opposite + np.column_stack([np.zeros(len(lattice)), -turn * opposite[:, 2], turn * opposite[:, 1]])
    assert (hue(reference, opposite) > 0).tolist() == ahead.tolist()
    assert de00(reference, opposite) == pytest.approx(de00(reference, just_before), abs=1e-6)


def test_greys_are_compared_in_the_plane_of_a_and_b() -> None:
    assert dch(np.array([[50.0, 1.0, 1.0]]), np.array([[80.0, 4.0, 5.0]])).tolist() == [5]
