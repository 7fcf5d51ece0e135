"""Colour differences against published pairs and two libraries."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import colour
import numpy as np
import numpy.typing as npt
import pytest
from coloraide import Color
from colour.models import Jab_to_JCh

from sentinel.core.colour.difference import chroma_pairs, cmc, de00, de76, de94, hue_difference
from tests.published.conftest import SOURCE
from tests.support.amount import amount

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]
Table = Callable[[str], FloatArray]
Difference = Callable[[FloatArray, FloatArray], FloatArray]

PAIRS = 100_000
_SLOW = slice(None, None, amount(20, long=1))
"""Which of them a library is asked for that takes one at a time: far ones and near ones."""


DIFFERENCES: list[tuple[str, Difference, dict[str, Any], dict[str, Any]]] = [
    ("ΔE*ab", de76, {"method": "CIE 1976"}, {"method": "76", "space": "lab-d65"}),
    ("CIE94", de94, {"method": "CIE 1994", "textiles": False}, {"method": "94"}),
    ("CMC(2:1)", cmc, {"method": "CMC", "l": 2, "c": 1}, {"method": "cmc", "l": 2, "c": 1}),
    ("CIEDE2000", de00, {"method": "CIE 2000"}, {"method": "2000"}),
]


def test_ciede2000_gives_all_34_published_pairs(published_table: Table, record_deviation: Record) -> None:
    """Pair 14, of exactly opposite hues, among them: 4.8045 on every platform."""
    pairs = published_table("ciede2000_sharma34.csv")
    reference, sample, published = pairs[:, 1:4], pairs[:, 4:7], pairs[:, 7]
    worst = float(np.abs(de00(reference, sample) - published).max())
    record_deviation("CIEDE2000: Sharma, Wu and Dalal 2005, table 1", len(pairs), worst, 5e-5, SOURCE)
    worst = float(np.abs(de00(sample, reference) - published).max())
    record_deviation("CIEDE2000, pairs swapped: Sharma, Wu and Dalal 2005, table 1", len(pairs), worst, 5e-5, SOURCE)


@pytest.mark.parametrize(("column", "name", "difference"), [(1, "CIE94", de94), (2, "CMC(2:1)", cmc)])
def test_cie94_and_cmc_agree_with_two_libraries_on_the_34_pairs(
    column: int, name: str, difference: Difference, published_table: Table, record_deviation: Record
) -> None:
    pairs = published_table("ciede2000_sharma34.csv")
    theirs = published_table("cie94_cmc_crosscheck34.csv")[:, column]
    worst = float(np.abs(difference(pairs[:, 1:4], pairs[:, 4:7]) - theirs).max())
    record_deviation(f"{name} on the 34 pairs: two libraries, six decimals", len(pairs), worst, 5.1e-7)


@pytest.mark.parametrize(("name", "difference", "options", "_"), DIFFERENCES)
def test_differences_are_those_of_colour_science(
    name: str, difference: Difference, options: dict[str, Any], _: object, record_deviation: Record
) -> None:
    reference, sample = _random_pairs()
    theirs = colour.delta_E(reference, sample, **options)
    worst = float(np.abs(difference(reference, sample) - theirs).max())
    record_deviation(f"{name}, random pairs: colour-science", PAIRS, worst, 1e-9)


@pytest.mark.parametrize(("name", "difference", "_", "options"), DIFFERENCES)
def test_differences_are_those_of_coloraide(
    name: str, difference: Difference, _: object, options: dict[str, Any], record_deviation: Record
) -> None:
    """Its formulas take the numbers as they are when the colours are already in the space they work in."""
    reference, sample = (pairs[_SLOW] for pairs in _random_pairs())
    theirs = [
        Color("lab-d65", first).delta_e(Color("lab-d65", second), **options)
        for first, second in zip(reference.tolist(), sample.tolist(), strict=True)
    ]
    worst = float(np.abs(difference(reference, sample) - theirs).max())
    record_deviation(f"{name}, random pairs: coloraide", len(reference), worst, 1e-9)


def test_hue_difference_follows_from_the_angles_of_colour_science() -> None:
    """ISO/CIE 11664-4: 2 sqrt(C1 C2) sin(delta h / 2), the angle taken the shorter way."""
    reference, sample = _random_pairs()
    _, chroma, hue = np.moveaxis(Jab_to_JCh(np.stack([reference, sample])), -1, 0)
    shorter_way = (hue[1] - hue[0] + 180) % 360 - 180
    theirs = 2 * np.sqrt(chroma[0] * chroma[1]) * np.sin(np.radians(shorter_way) / 2)
    ours = hue_difference(chroma_pairs((reference[:, 1], reference[:, 2]), (sample[:, 1], sample[:, 2])))
    assert np.abs(ours - theirs).max() <= 1e-9


def _random_pairs() -> tuple[FloatArray, FloatArray]:
    """Half of them far apart, half within a few units of each other, as prints of one chart are."""
    random = np.random.default_rng(2000)
    low, high = [0.0, -128.0, -128.0], [100.0, 128.0, 128.0]
    reference = random.uniform(low, high, (PAIRS, 3))
    sample = random.uniform(low, high, (PAIRS, 3))
    near = slice(PAIRS // 2, None)
    sample[near] = reference[near] + random.normal(0, 2, (PAIRS, 3))[near]
    return reference, sample
