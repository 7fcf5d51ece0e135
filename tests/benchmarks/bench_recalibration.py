"""Speed of the recalibration forecast. Run: python -m tests.benchmarks.bench_recalibration

1617 patches of 31 bands (the device values of FOGRA39L, printed by the invented inks of the unit tests), every ink off
in tone scale and solid, from arrays in memory to curves, bands and what remains. Spectral and Lab alone take turns in
one run with a matrix product of known size, so that runs on busy machines can be told. On a machine that others use,
the minima are the figures to go by.
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Callable

import numpy as np

from sentinel.core.recalibration.forecast import recalibration_forecast
from sentinel.settings.diagnosis import RecalibrationTable
from tests.benchmarks.turns import times_in_turns
from tests.unit.core.recalibration.prints import Print, noisy, readings, usual
from tests.unit.core.scoring.golden import dataset

TURNS = 40
WARM_UP = 3
WANTED_MS = 100.0


def main() -> None:
    """Prints median and minimum of each."""
    device = dataset("FOGRA39L").chart.device
    chance = np.random.default_rng(4)
    wrong = Print(np.array([0.16, 0.08, 0.17, 0.10]), np.array([1.15, 0.9, 1.1, 1.0]))
    aim, reading = noisy(chance, usual(), device), noisy(chance, wrong, device)
    terms = RecalibrationTable().terms
    square = chance.standard_normal((600, 600))
    sides = [readings(aim, reading, device, spectral=spectral) for spectral in (True, False)]
    cases: dict[str, Callable[[], object]] = {
        "with spectra": lambda: recalibration_forecast(sides[0], terms),
        "Lab alone": lambda: recalibration_forecast(sides[1], terms),
        "a matrix product of 600 by 600": lambda: square @ square,
    }
    for name, times in zip(cases, times_in_turns(*cases.values(), turns=TURNS, warm_up=WARM_UP), strict=True):
        _say(f"{name:32} median {statistics.median(times):7.2f} ms, minimum {min(times):7.2f} ms")
    _say(f"{len(device)} patches, {TURNS} runs each; wanted: well below {WANTED_MS:g} ms")


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main()
