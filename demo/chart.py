"""The chart of the demo: about a hundred patches of four inks."""

from __future__ import annotations

import itertools

import numpy as np

from demo.simulator.spectra import FloatArray

TONES = (3.0, 5.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0)
GREYS = (
    (10, 6, 6), (20, 12, 12), (25, 19, 19), (40, 27, 27), (50, 40, 40), (60, 45, 45), (75, 64, 64), (80, 65, 65),
    (100, 85, 85),
)  # fmt: skip
BROWNS = ((15, 25, 30), (20, 40, 45), (30, 55, 65), (45, 70, 80))
PATCHES_A_ROW = 20


def patches() -> FloatArray:
    """CMYK in percent, (patches, 4): paper twice, tone scales, overprints, with black too, greys, browns."""
    rows: list[tuple[float, ...]] = [(0, 0, 0, 0), (0, 0, 0, 0)]
    rows += [_one_ink(ink, tone) for ink in range(4) for tone in TONES]
    overprints = [cmy for cmy in itertools.product((0, 40, 100), repeat=3) if _inks(cmy) > 1]
    rows += [(*cmy, 0) for cmy in overprints]
    rows += [(*cmy, black) for cmy in itertools.product((0, 70), repeat=3) if _inks(cmy) > 0 for black in (25, 50)]
    rows += [(*cmy, 0) for cmy in (*GREYS, *BROWNS)]
    return np.array(rows, dtype=np.float64)


def labels(count: int) -> list[str]:
    """Places on the sheet: A1 to A20, B1 and so on."""
    return [f"{chr(ord('A') + i // PATCHES_A_ROW)}{i % PATCHES_A_ROW + 1}" for i in range(count)]


def _one_ink(ink: int, tone: float) -> tuple[float, ...]:
    return tuple(tone if index == ink else 0.0 for index in range(4))


def _inks(cmy: tuple[int, ...]) -> int:
    return sum(amount > 0 for amount in cmy)
