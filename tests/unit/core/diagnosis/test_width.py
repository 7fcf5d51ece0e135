"""Sheets of several places across the web, side by side: what differs, where, in which shape, and how surely."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.diagnosis.movement import What
from sentinel.core.diagnosis.width import (
    BEFOREHAND,
    PATTERN_SIZE,
    Across,
    Shape,
    WebSheets,
    WidthPattern,
    across_the_width,
    likeliest,
    overall_words,
    part_sentence,
    place_words,
)
from tests.unit.core.diagnosis.sheets import NAMES, Press, full_chart, lab_of

CHART = full_chart()
NOISE = 0.006


def read(*presses: Press, technology: str | None = None) -> Across:
    sheets = np.stack([lab_of(press.spectra(CHART)) for press in presses])
    web = WebSheets(NAMES[:4], CHART, np.asarray((CHART == 0).all(axis=1)), sheets, True)
    return across_the_width(web, technology)


def gains(ink: int, *gain: float, seed: int = 2) -> list[Press]:
    return [Press(noise=NOISE, gain={ink: each}, seed=seed + place) for place, each in enumerate(gain)]


@pytest.mark.parametrize("seed", range(0, 60, 6))
def test_sheets_of_one_print_are_alike(seed: int) -> None:
    found = read(*(Press(noise=NOISE, seed=seed + place) for place in range(3)))
    assert found.shape == Shape(WidthPattern.ALIKE)
    assert not found.differs
    [told] = found.parts
    assert "no more than sheets may differ by" in str(part_sentence(told, 3))


@pytest.mark.parametrize("ink", range(4))
def test_a_gradient_of_an_ink_is_told_with_its_way_and_size(ink: int) -> None:
    presses = [Press(noise=NOISE, strength={ink: share}, seed=place) for place, share in enumerate((0.9, 1.0, 1.1))]
    found = read(*presses)
    assert found.shape == Shape(WidthPattern.GRADIENT)
    assert found.sure
    [solid] = [each for each in found.parts if each.movement.part.what is What.SOLID]
    assert (solid.movement.part.ink, solid.start, solid.end) == (NAMES[ink], 0, 2)
    # what CIEDE2000 itself says of the two solids without noise
    row = [int(np.flatnonzero((100.0 * np.eye(4)[ink] == CHART).all(axis=1))[0])]
    ends = [lab_of(Press(strength={ink: share}, noise=0.0).spectra(CHART)[row]) for share in (0.9, 1.1)]
    assert solid.movement.de00 == pytest.approx(float(de00(*ends)[0]), abs=solid.movement.plus_minus)


@pytest.mark.parametrize("place", range(3))
def test_one_place_apart_is_named_and_is_no_gradient(place: int) -> None:
    found = read(*gains(1, *(0.07 if each == place else 0.0 for each in range(3))))
    assert found.shape == Shape(WidthPattern.ONE_APART, place)
    assert {each.movement.part.ink for each in found.parts if each.movement.part.ink} <= {"M"}
    assert f"One place apart: {('left', 'centre', 'right')[place]}" in str(overall_words(found))


def test_a_gradient_needs_every_place_beyond_the_one_before() -> None:
    turned = read(*gains(1, 0.0, 0.05, -0.05))
    assert turned.shape.pattern is not WidthPattern.GRADIENT
    assert read(*gains(1, -0.05, 0.0, 0.05)).shape.pattern is WidthPattern.GRADIENT


def test_five_places_show_a_gradient_and_nine_are_the_most() -> None:
    assert read(*gains(1, -0.04, -0.02, 0.0, 0.02, 0.04)).shape.pattern is WidthPattern.GRADIENT
    with pytest.raises(ValueError, match="expected sheets of 2 to 9 places, got 10"):
        read(*gains(1, *[0.0] * 10))


def test_two_places_tell_that_they_differ_and_nothing_of_a_shape() -> None:
    found = read(*gains(1, 0.0, 0.07))
    assert found.shape == Shape(WidthPattern.TWO_PLACES)
    assert "third sheet" in str(overall_words(found))
    assert read(*gains(1, 0.0, 0.0)).shape == Shape(WidthPattern.ALIKE)


def test_what_is_ordinary_goes_by_the_ink_technology() -> None:
    presses = gains(1, 0.0, 0.0, 0.028)
    aqueous, uv = (read(*presses, technology=name) for name in ("aqueous-pigment", "uv"))
    assert (aqueous.ordinary, uv.ordinary) == ((0.3, 0.6), (0.5, 1.0))
    assert len(uv.parts) < len(aqueous.parts)
    assert uv.parts[0].movement.plus_minus > aqueous.parts[0].movement.plus_minus


def test_the_means_between_are_those_of_ciede2000() -> None:
    presses = gains(0, 0.0, 0.02, 0.05)
    found = read(*presses)
    labs = [lab_of(press.spectra(CHART)) for press in presses]
    assert found.between[0][2] == pytest.approx(float(de00(labs[0], labs[2]).mean()))
    assert found.between[2][0] == pytest.approx(found.between[0][2], rel=1e-6)
    assert found.largest_mean == max(found.between[0])


def dense(places: FloatArray, ways: FloatArray, noise: float) -> float:
    """ln of the density of places under one shape, from the covariance itself, against places that are alike."""
    unit = ways / np.linalg.norm(ways, axis=0)
    total = 0.0
    for component in places.T:
        covariance = noise**2 * np.eye(len(places)) + PATTERN_SIZE**2 * unit @ unit.T
        plain = noise**2 * np.eye(len(places))
        for sign, each in ((1, covariance), (-1, plain)):
            quadratic = component @ np.linalg.solve(each, component)
            total += sign * -0.5 * (quadratic + np.linalg.slogdet(each)[1])
    return total


@pytest.mark.parametrize("noise", [0.2, 0.5])
def test_how_likely_a_shape_is_agrees_with_dense_normal_densities(noise: float) -> None:
    """Against `numpy.linalg` on whole covariance matrices, which the program never forms."""
    places = np.array([[-0.9, 0.1, 0.0], [0.1, -0.2, 0.1], [0.8, 0.1, -0.1]])
    shapes: Sequence[tuple[Shape, FloatArray]] = [
        (Shape(WidthPattern.GRADIENT), np.array([[-1.0], [0.0], [1.0]])),
        *((Shape(WidthPattern.ONE_APART, place), np.eye(3)[:, [place]] - 1 / 3) for place in range(3)),
        (Shape(WidthPattern.NO_ORDER), np.array([[-1.0, 1.0], [0.0, -2.0], [1.0, 1.0]])),
    ]
    logs = np.array(
        [
            dense(places, ways, noise) + np.log(BEFOREHAND[s.pattern] / (1 if s.place is None else 3))
            for s, ways in shapes
        ]
    )
    shares = np.exp(logs - logs.max())
    best, likely = likeliest(places, noise, differ=True)
    assert best == shapes[int(shares.argmax())][0]
    assert likely == pytest.approx(float(shares.max() / shares.sum()), rel=1e-6)


def test_places_have_names() -> None:
    assert [str(place_words(place, 3)) for place in range(3)] == ["left", "centre", "right"]
    assert [str(place_words(place, 2)) for place in range(2)] == ["left", "right"]
    assert str(place_words(1, 5)) == "place 2"


def test_too_few_patches_are_refused() -> None:
    lab = np.zeros((3, 9, 3))
    with pytest.raises(ValueError, match="expected 10 patches or more that all sheets share, got 9"):
        across_the_width(WebSheets((), np.zeros((9, 0)), np.zeros(9, dtype=bool), lab, False))
