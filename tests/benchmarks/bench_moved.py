"""How long it takes to say what moved, beside the scoring of the same chart: python -m tests.benchmarks.bench_moved.

Medians of processor time of one thread, so that what else the machine does counts little.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from statistics import median
from time import thread_time

from sentinel.core.diagnosis.diagnose import diagnose
from sentinel.core.diagnosis.moved import moved
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import figures_of
from sentinel.core.scoring.policy import ScoringOptions
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.unit.core.diagnosis.sheets import Press, full_chart, measurement, subject

SIZES = ((8, 1617), (4, 65))
ROUNDS = 21


def main() -> None:
    """Prints medians, and their ratios to scoring and diagnosis."""
    for inks, patches in SIZES:
        chart = full_chart(inks, patches)
        aim, weak = Press(inks).spectra(chart), Press(inks, strength={1: 0.85}, seed=3).spectra(chart)
        target, sample, faulty = measurement(chart, aim), measurement(chart, weak), subject(chart, aim, weak)
        base = _median(lambda: figures_of(match(target, sample), ScoringOptions()))  # noqa: B023 - called at once
        causes = _median(lambda: diagnose(faulty, HOUSE_WEIGHTS))  # noqa: B023
        sys.stdout.write(f"{patches} patches, {inks} inks: scoring {base:.1f} ms, diagnosis {causes:.1f} ms\n")
        for name, beyond in (("beyond a limit", True), ("within", False)):
            took = _median(lambda beyond=beyond: moved(faulty, beyond_limit=beyond))  # type: ignore[misc]  # noqa: B023
            sys.stdout.write(
                f"  what moved, {name}: {took:.2f} ms, {took / base:.2f} of the scoring, "
                f"{took / causes:.3f} of the diagnosis\n"
            )


def _median(work: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        start = thread_time()
        work()
        times.append(1000 * (thread_time() - start))
    return median(times)


if __name__ == "__main__":
    main()
