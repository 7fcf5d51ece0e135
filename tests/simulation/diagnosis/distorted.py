"""Prints that moved smoothly in a way that no cause makes, on the world for fitting.

python -m tests.simulation.diagnosis.distorted 60
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np

from demo.simulator.checks import LabelledCheck
from demo.simulator.rooms import Kind
from demo.simulator.spectra import lab_of
from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from tests.simulation.diagnosis.judging import ANSWERED, Finding, findings_of
from tests.simulation.diagnosis.learning import diagnose
from tests.simulation.diagnosis.samples import Sample
from tests.simulation.diagnosis.study import PROCESSES
from tests.simulation.diagnosis.worlds import FITTING

TRUE = ("unexplained", "print-moved")
KINDS: tuple[Kind, ...] = ("full", "short")
SIZES = (2.0, 5.0)
"""Mean ΔE00 of inked patches."""
WIDTHS = (0.5, 1.2)
"""Of the field's kernel, in whole amounts of ink."""
WAVES = 200
BANDS_NM, BAND_NM = np.array([450.0, 545.0, 630.0]), 45.0


def smooth_field(rng: np.random.Generator, amounts: FloatArray) -> FloatArray:
    """A draw of a Gaussian process over amounts (patches, inks) of 0 to 1, 0 on bare paper: (patches,). Made of random
    waves (Rahimi and Recht, Random Features for Large-Scale Kernel Machines, 2007)."""
    ways = rng.standard_normal((amounts.shape[1], WAVES)) / rng.uniform(*WIDTHS)
    turns, sizes = rng.uniform(0, 2 * np.pi, WAVES), rng.standard_normal(WAVES) * np.sqrt(2 / WAVES)
    field: FloatArray = (np.cos(amounts @ ways + turns) - np.cos(turns)) @ sizes
    return field


def distorted(rng: np.random.Generator, check: LabelledCheck) -> LabelledCheck:
    """The same check, its light changed by a smooth field in three bands."""
    amounts, nm = check.chart.device / 100, np.linspace(380.0, 730.0, check.reading.shape[1])
    bands = np.exp(-0.5 * ((nm - BANDS_NM[:, None]) / BAND_NM) ** 2)
    shape = np.stack([smooth_field(rng, amounts) for _ in BANDS_NM], axis=1) @ bands
    wanted, size, inked = np.exp(rng.uniform(*np.log(SIZES))), 0.05, amounts.max(axis=1) > 0
    for _ in range(4):
        moved = de00(lab_of(check.reading), lab_of(check.reading * np.exp(size * shape)))
        size *= wanted / float(moved[inked].mean())
    return replace(check, reading=check.reading * np.exp(size * shape))


def found(number: int) -> tuple[Kind, tuple[Finding, ...]]:
    """What is said of one of them."""
    kind = KINDS[number % len(KINDS)]
    drawn = Sample(FITTING, number, ("healthy",), kind).draw()
    check = distorted(np.random.default_rng([70_102, number]), drawn)
    rivals = check.rivals if number % 4 < len(KINDS) else {}
    return kind, findings_of(diagnose({}, check.file, check.target, rivals, check.inks)["diagnosis"])


def main() -> None:
    """Prints the figures."""
    parser = argparse.ArgumentParser(description="Judges the diagnosis on prints that moved as no cause makes them.")
    parser.add_argument("checks", type=int, help="how many, full and short charts in turn")
    with ProcessPoolExecutor(PROCESSES) as pool:
        judged = list(pool.map(found, range(parser.parse_args().checks), chunksize=4))
    for kind in KINDS:
        own = [findings for each, findings in judged if each == kind]
        right = sum(any(each.answers and each.cause in TRUE for each in findings) for findings in own)
        wrong = sum(
            any(each.confidence >= ANSWERED and each.cause not in TRUE for each in findings) for findings in own
        )
        sys.stdout.write(f"| {kind} | {len(own)} | {100 * right / len(own):.0f} % | {100 * wrong / len(own):.0f} % |\n")


if __name__ == "__main__":
    main()
