"""An instrument that reads otherwise, told from printers that moved, from readings against what was expected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from tests.simulation.watch.instrument_shifts import INSTRUMENTS, InstrumentShift, Unexpected, shifted_instruments

FIGURES = ("C", "M", "Y", "K")
SHIFT = np.array([4.0, -3.0, 2.5, 3.0])


def printer(instruments: str, off: FloatArray, seed: int, jumped: FloatArray | None = None) -> Unexpected:
    """Readings by the instruments named by letters; `off` is how far A reads off; all readings share how well the
    printer's level was known (sd 0.7)."""
    rng, count = np.random.default_rng(seed), len(instruments)
    by_a = np.array([one == "A" for one in instruments], float)
    common = rng.normal(0.0, 0.7, 4) + (0.0 if jumped is None else jumped)
    error = by_a[:, None] * off + common + rng.normal(0.0, 1.0, (count, 4))
    covariance = np.tile(np.eye(count) + 0.49, (4, 1, 1))
    return Unexpected(list(instruments), error, covariance, np.ones((count, 4)), FIGURES, np.arange(4))


def told(printers: Sequence[Unexpected]) -> list[InstrumentShift]:
    return shifted_instruments(printers, 3.0)


def test_a_shift_on_all_that_an_instrument_read_is_found_and_sized() -> None:
    [found] = told([printer("AAB", SHIFT, 1), printer("AAA", SHIFT, 2), printer("BBB", SHIFT, 3)])
    assert (found.instrument, found.apart, found.readings) == ("A", True, 5)
    assert [found.by[figure] for figure in FIGURES] == pytest.approx(SHIFT.tolist(), abs=1.5)


def test_nothing_is_told_where_nothing_moved() -> None:
    rooms = ([printer("AAB", 0 * SHIFT, 3 * seed + which) for which in range(3)] for seed in range(100))
    assert sum(len(told(room)) for room in rooms) == 0


def test_a_printer_that_moved_is_no_instrument() -> None:
    """Whoever read it: both read it otherwise."""
    for seed in range(40):
        moved = printer("AABA", 0 * SHIFT, seed, jumped=SHIFT)
        assert told([moved, printer("AAB", 0 * SHIFT, 100 + seed), printer("BBB", 0 * SHIFT, 200 + seed)]) == []


def test_where_one_instrument_read_everything_it_says_that_it_cannot_be_told_apart() -> None:
    [found] = told([printer("AAA", SHIFT, seed) for seed in (1, 2, 3)])
    assert not found.apart


def test_one_sheet_far_off_is_not_an_instrument() -> None:
    lone = printer("AAB", 0 * SHIFT, 1)
    lone.error[0] += 15.0
    assert told([lone, printer("ABA", 0 * SHIFT, 2), printer("BAB", 0 * SHIFT, 3)]) == []


def test_figures_that_are_not_known_tell_nothing() -> None:
    printers = [printer("AAB", 1.5 * SHIFT, 1), printer("AAA", 1.5 * SHIFT, 2), printer("BBB", SHIFT, 3)]
    for each in printers:
        each.error[:, 0] = np.nan
    [found] = told(printers)
    assert found.by["C"] == 0.0
    assert 2.0 < found.by["K"] < 4.5  # drawn towards none


def test_the_factor_is_that_of_whole_normal_densities() -> None:
    """One printer, one figure: the odds against the densities worked out with whole matrices."""
    one = replace(
        printer("AABA", SHIFT, 4),
        error=printer("AABA", SHIFT, 4).error[:, :1],
        covariance=np.tile(np.eye(4) + 0.49, (1, 1, 1)),
        shown=np.ones((4, 1)),
        figures=("C",),
        ink_of=np.array([0]),
    )
    rules = replace(INSTRUMENTS, odds=1e-12, farthest=1e9, wider=1.0)
    found = {each.instrument: each for each in shifted_instruments([one], 3.0, rules)}["A"]
    error, covariance = one.error[:, 0], one.covariance[0]
    by_a, whole = np.array([1.0, 1.0, 0.0, 1.0]), np.ones(4)

    def density(extra: FloatArray) -> float:
        total = covariance + extra
        return float(np.exp(-0.5 * error @ np.linalg.solve(total, error)) / np.sqrt(np.linalg.det(total)))

    nothing = density(np.zeros((4, 4)))
    shift, run, jump = (
        density(size**2 * np.outer(which, which)) / nothing
        for size, which in ((rules.size, by_a), (rules.size, whole), (rules.jump, whole))
    )
    jumps, runs = (1.0 - np.exp(-3.0 / each) for each in (rules.days_between_jumps, rules.days_between_runs))
    rival = (1.0 - runs) * (1.0 - jumps + jumps * jump) + runs * run
    assert found.odds == pytest.approx(shift / rival * 3.0 / rules.days_between)
