"""Speed of the colour room. Run: python tests/benchmarks/bench_colour.py

Ratios come from one run, the two sides taking turns, and the best turn of each counts.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import colour
import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance

TURNS = 5
PAIRS = 1_000_000
PATCHES = 1617
WAVELENGTHS = np.arange(380.0, 731.0, 10.0)


def main() -> None:
    random = np.random.default_rng(2000)
    reference = random.uniform([0, -128, -128], [100, 128, 128], (PAIRS, 3))
    _compare("far apart", reference, random.uniform([0, -128, -128], [100, 128, 128], (PAIRS, 3)))
    _compare("a few units apart", reference, reference + random.normal(0, 2, (PAIRS, 3)))
    reflectance = random.uniform(0, 1, (PATCHES, len(WAVELENGTHS)))
    target, lab = random.uniform(20, 80, (2, PATCHES, 3))
    to_lab, difference = _best_in_turns(
        lambda: lab_from_xyz(xyz_from_reflectance(reflectance, WAVELENGTHS), D50_ASTM_E308),
        lambda: de00(target, lab),
    )
    _say(f"{PATCHES} spectra of {len(WAVELENGTHS)} bands to Lab: {to_lab * 1e3:.3f} ms")
    _say(f"CIEDE2000, {PATCHES} pairs: {difference * 1e3:.3f} ms")


def _compare(name: str, reference: FloatArray, sample: FloatArray) -> None:
    ours, theirs = _best_in_turns(
        lambda: de00(reference, sample),
        lambda: colour.delta_E(reference, sample, method="CIE 2000"),
    )
    _say(
        f"CIEDE2000, {PAIRS} pairs {name}: {ours * 1e3:.0f} ms, colour-science {theirs * 1e3:.0f} ms, "
        f"ratio {ours / theirs:.3f} (wanted: at most 0.5)"
    )


def _best_in_turns(*sides: Callable[[], object]) -> list[float]:
    """The shortest time of each side, in seconds, after one turn to warm up."""
    best = [float("inf")] * len(sides)
    for turn in range(TURNS + 1):
        for side, work in enumerate(sides):
            began = time.perf_counter()
            work()
            if turn:
                best[side] = min(best[side], time.perf_counter() - began)
    return best


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main()
