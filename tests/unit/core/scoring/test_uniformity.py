"""How alike the quarters of a sheet are, where the places of its patches are known."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest

from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import figures_of, uniformity
from sentinel.core.scoring.policy import ScoringOptions
from tests.unit.core.builders import FloatArray
from tests.unit.core.scoring.golden import placed
from tests.unit.core.scoring.test_metrics import repeated

GRID = list(itertools.product(range(6), range(8)))
"""Column and row of 48 patches."""
OFFSETS = {(0, 0): [0.0, 0, 0], (0, 1): [1.0, 0, 0], (1, 0): [0.0, 2, 0], (1, 1): [0.0, 0, -3]}
"""L*, a*, b* by quarter: left or right, upper or lower."""
LARGEST = 13**0.5
"""Between the last two."""


def errors() -> FloatArray:
    return np.array([OFFSETS[int(column >= 3), int(row >= 4)] for column, row in GRID])


def letters(column: int) -> str:
    return "ABCDEF"[column]


STYLES: dict[str, Callable[[int, int], str]] = {
    "A1": lambda column, row: f"{letters(column)}{row + 1}",
    "a1": lambda column, row: f"{letters(column).lower()}{row + 1}",
    "A-1": lambda column, row: f"{letters(column)}-{row + 1}",
    "A 1": lambda column, row: f"{letters(column)} {row + 1}",
    "A01": lambda column, row: f"{letters(column)}{row + 1:02}",
    "1-1": lambda column, row: f"{column + 1}-{row + 1}",
    "1,1": lambda column, row: f"{column + 1},{row + 1}",
    "1/1": lambda column, row: f"{column + 1}/{row + 1}",
    "1 1": lambda column, row: f" {column + 1} {row + 1} ",
}


@pytest.mark.parametrize("style", STYLES.values(), ids=STYLES)
def test_known_offsets_of_the_quarters_come_back(style: Callable[[int, int], str]) -> None:
    assert uniformity([style(*place) for place in GRID], errors()) == pytest.approx(LARGEST)


def test_a_sheet_that_is_off_everywhere_alike_is_even() -> None:
    places = [STYLES["A1"](*place) for place in GRID]
    assert uniformity(places, np.full((48, 3), 5.0)) == pytest.approx(0)


def test_noise_within_the_quarters_is_averaged_away() -> None:
    noise = np.where(np.arange(48) % 2, 1.0, -1.0)[:, None] * [4.0, 4, 4]
    places = [STYLES["A1"](*place) for place in GRID]
    assert uniformity(places, errors() + noise) == pytest.approx(LARGEST)


def test_columns_go_on_behind_z_with_two_letters() -> None:
    """A to Z, AA to AD: told by number, not by the alphabet, where AA would stand beside A."""
    names = [*map(chr, range(ord("A"), ord("Z") + 1)), "AA", "AB", "AC", "AD"]
    places = [f"{name}{row}" for name in names for row in (1, 2)]
    right = np.repeat([column >= 15 for column in range(30)], 2)
    assert uniformity(places, np.outer(right, [2.0, 0, 0])) == pytest.approx(2.0)


PLACES = [STYLES["A1"](*place) for place in GRID]


@pytest.mark.parametrize(
    "places",
    [
        [*PLACES[:-1], ""],
        [*PLACES[:-1], "top left"],
        ["ABCD1", *PLACES[1:]],
        [str(number) for number in range(48)],
        [f"A{number}" for number in range(1, 49)],
        [f"{letter}1" for letter in ("A", "B", "C", "D")] * 12,
        [f"{number}-{number}" for number in range(1, 49)],
        ["A1"] * 48,
    ],
    ids=["one missing", "words", "four letters", "numbers", "one column", "one row", "a diagonal", "one place"],
)
def test_unusable_places_give_no_figure(places: list[str]) -> None:
    assert uniformity(places, errors()) is None


@pytest.mark.parametrize(("count", "there"), [(7, False), (8, True)])
def test_fewer_than_eight_patches_give_no_figure(count: int, there: bool) -> None:
    places = [f"{column}{row}" for column in "AB" for row in (1, 2, 3, 4)][:count]
    assert (uniformity(places, np.zeros((count, 3))) is not None) is there


def test_it_is_the_measured_sheet_s_and_the_errors_not_the_colours_count() -> None:
    aim = repeated(*[[[90.0 - row, 0, 0]] for row in range(98)])
    sample = placed(aim)
    assert figures_of(match(aim, sample), ScoringOptions()).metrics["all"]["uniformity"] == pytest.approx(0)
    assert "uniformity" not in figures_of(match(sample, aim), ScoringOptions()).metrics["all"]
