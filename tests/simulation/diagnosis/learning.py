"""What learning from people does: houses with faults of few kinds, and one where they have become others since.

python -m tests.simulation.diagnosis.learning 280
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

from sentinel.application.checking import GUARDED, examined
from sentinel.core.diagnosis.expectation import learnt
from sentinel.core.diagnosis.sheet import Context
from sentinel.core.measurement import MeasurementCondition
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.scoring.score import Aim, Target, target_from
from sentinel.settings.diagnosis import HOUSE_WEIGHTS, DiagnosisTable, RecalibrationTable
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, MeasurementsTable, ReaderTable
from tests.simulation.diagnosis.figures import Figures, figures
from tests.simulation.diagnosis.judging import Judged
from tests.simulation.diagnosis.samples import MIX, Sample
from tests.simulation.diagnosis.study import PROCESSES, judge
from tests.simulation.diagnosis.worlds import FITTING

TONES = {"tone-shift": 24, "solid-off-aim": 10, "possibly-not-dry": 4, "outlying-patches": 2}
WET = {"possibly-not-dry": 24, "solid-off-aim": 8, "substrate-shade": 4, "patch-order": 4}


@dataclass(frozen=True, slots=True)
class House:
    """What was told there, and what comes after that: cases of the simulator in turn."""

    told: Mapping[str, int]
    cases: Sequence[str]


HOUSES = {
    "tones drift": House(TONES, (
        *["tone shift"] * 6, "solid off", "head wear", "wet", "scratch", *["healthy"] * 3, "new lot",
    )),
    "charts read wet": House(WET, (
        *["wet"] * 6, "solid off", "head wear", "new lot", "rows shifted", *["healthy"] * 3, "wrong mode",
    )),
    "tones drifted, now anything": House(TONES, MIX),
}  # fmt: skip


def diagnose(
    weights: Mapping[str, float], file: str, target: str, rivals: Mapping[str, str], _inks: tuple[str, ...]
) -> Mapping[str, Any]:
    """As the service would with these factors."""
    [measurement] = read_measurements(file.encode(), ReaderTable().bounds(64))
    _, found, _ = examined(
        measurement,
        measurement.condition,
        [Aim(_target("aim", target), HOUSE_LIMITS, None)],
        MeasurementsTable().rules,
        DiagnosisTable().rules(RecalibrationTable().terms),
        lambda: [_target(name, text) for name, text in rivals.items()],
        lambda _: Context(weights=weights),
    )
    return {"diagnosis": [each.as_record() for each in found]}


def _target(name: str, text: str) -> Target:
    return target_from(text.encode(), name, 1, "ink-space", MeasurementCondition())


def judged(house: House, taught: bool, number: int) -> Judged:
    """One short chart of the house, by what is configured or by what was told beside it."""
    weights = learnt(HOUSE_WEIGHTS, house.told, GUARDED) if taught else {}
    sample = Sample(FITTING, number, (house.cases[number % len(house.cases)],), "short")
    return judge(sample, partial(diagnose, weights))


def row(name: str, taught: bool, found: Figures) -> str:
    """Of the page."""
    shares = (found.right, found.confidently_wrong, found.called_healthy)
    told = " | ".join("" if share is None else f"{100 * share:.1f} %" for share in shares)
    return f"| {name} | {'learnt' if taught else 'configured'} | {found.checks} | {told} | {found.length or 0:.2f} |\n"


def main() -> None:
    """Prints the figures."""
    parser = argparse.ArgumentParser(description="Judges what learning from people does.")
    parser.add_argument("checks", type=int, help="how many checks of each house")
    count = parser.parse_args().checks
    with ProcessPoolExecutor(PROCESSES) as pool:
        for name, house in HOUSES.items():
            for taught in (False, True):
                found = list(pool.map(partial(judged, house, taught), range(count), chunksize=20))
                sys.stdout.write(row(name, taught, figures(found)))


if __name__ == "__main__":
    main()
