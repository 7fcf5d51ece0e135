"""Differences in visual units against CIEDE2000 itself, which is held to its authors' data in published/."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.colour.difference import de00, de00_vectors, scale_around, scale_between

CHANCE = np.random.default_rng(3)
COLOURS = np.stack([CHANCE.uniform(10, 95, 500), *CHANCE.uniform(-70, 70, (2, 500))], axis=1)
NEAR = COLOURS + CHANCE.normal(0, 1.0, COLOURS.shape)


def test_difference_between_two_colours_has_the_length_of_ciede2000() -> None:
    length = np.linalg.norm(scale_between(COLOURS, NEAR)(NEAR - COLOURS), axis=1)
    assert length == pytest.approx(de00(COLOURS, NEAR), rel=0.1, abs=0.05)


def test_difference_around_a_colour_has_the_length_of_ciede2000_but_in_deep_blue() -> None:
    """The rotation term acts around a hue of 275 degrees (Sharma, Wu and Dalal 2005)."""
    hue = np.degrees(np.arctan2(COLOURS[:, 2], COLOURS[:, 1])) % 360
    away = np.abs(hue - 275) > 60
    small = 0.1 * (NEAR - COLOURS)
    length = np.linalg.norm(scale_around(COLOURS)(small), axis=1)
    assert length[away] == pytest.approx(de00(COLOURS, COLOURS + small)[away], rel=0.03, abs=0.005)


def test_stack_of_differences_is_scaled_one_by_one() -> None:
    scale, differences = scale_around(COLOURS), np.stack([NEAR - COLOURS, COLOURS - NEAR])
    assert np.array_equal(scale(differences)[1], scale(differences[1]))


def test_vector_of_a_difference_has_exactly_the_length_of_ciede2000() -> None:
    assert np.linalg.norm(de00_vectors(COLOURS, NEAR), axis=1) == pytest.approx(de00(COLOURS, NEAR), rel=1e-12)
    assert np.array_equal(de00_vectors(COLOURS, COLOURS), np.zeros_like(COLOURS))


@pytest.mark.parametrize(
    ("aim", "read", "axis", "sign"),
    [
        ((50.0, 0.0, 0.0), (45.0, 0.0, 0.0), 0, -1),
        ((50.0, 0.0, 0.0), (50.0, 3.0, 0.0), 1, 1),
        ((50.0, 0.0, 0.0), (50.0, 0.0, -3.0), 2, -1),
        ((50.0, 0.0, 60.0), (50.0, 0.0, 65.0), 2, 1),
        ((50.0, -40.0, 0.0), (50.0, -35.0, 0.0), 1, 1),
        ((50.0, -40.0, 0.0), (50.0, -40.0, -3.0), 2, -1),
    ],
)
def test_vector_of_a_difference_points_where_the_colour_went(
    aim: tuple[float, ...], read: tuple[float, ...], axis: int, sign: int
) -> None:
    [vector] = de00_vectors(np.array([aim]), np.array([read]))
    others = np.delete(vector, axis)
    assert np.sign(vector[axis]) == sign
    assert np.abs(others).max() < 0.1 * abs(vector[axis])
