"""How long a diagnosis takes beside the scoring of the same chart: python -m tests.benchmarks.bench_diagnosis."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from statistics import median
from time import perf_counter

import numpy as np

from sentinel.core.assessment import foretold
from sentinel.core.diagnosis.diagnose import diagnose
from sentinel.core.diagnosis.sheet import DiagnosisSubject, Rival
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import figures_of
from sentinel.core.scoring.policy import ScoringOptions
from sentinel.settings.diagnosis import HOUSE_WEIGHTS, RecalibrationTable
from tests.unit.core.diagnosis.sheets import Press, full_chart, measurement, subject

PATCHES, INKS, ROUNDS = 1617, 8, 15


def main() -> None:
    """Prints medians and their ratio to scoring."""
    chart = full_chart(INKS, PATCHES)
    aim, read = Press(INKS).spectra(chart), Press(INKS, strength={0: 1.15}).spectra(chart)
    target, sample = measurement(chart, aim), measurement(chart, read)
    faulty = subject(chart, aim, read)
    healthy = subject(chart, aim, Press(INKS, seed=3).spectra(chart))
    other = Rival("other stock", faulty.aim + np.array([-3.0, 0.5, 2.0]))
    base = _median(lambda: figures_of(match(target, sample), ScoringOptions()))
    sys.stdout.write(f"scoring {PATCHES} patches: {base:.1f} ms\n")
    cases: dict[str, DiagnosisSubject] = {
        "healthy": healthy,
        "one ink off": faulty,
        "one ink off, a rival": replace(faulty, rivals=(other,)),
        "without spectra": replace(faulty, spectra=None),
        "rows shifted": subject(chart, aim, np.roll(read, 1, axis=0)),
    }
    for name, case in cases.items():
        took = _median(lambda case=case: diagnose(case, HOUSE_WEIGHTS))  # type: ignore[misc]
        sys.stdout.write(f"diagnosis, {INKS} inks, {name}: {took:.1f} ms, {took / base:.1f} times the scoring\n")
    heavy, terms = subject(chart, aim, Press(INKS, gain={1: 0.06}).spectra(chart)), RecalibrationTable().terms
    took = _median(lambda: foretold(diagnose(heavy, HOUSE_WEIGHTS), heavy, terms))
    sys.stdout.write(f"diagnosis and forecast, {INKS} inks, one tone scale off: {took:.1f} ms\n")


def _median(work: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        start = perf_counter()
        work()
        times.append(1000 * (perf_counter() - start))
    return median(times)


if __name__ == "__main__":
    main()
