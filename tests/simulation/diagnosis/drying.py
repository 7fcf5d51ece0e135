"""What sheets that were read twice are worth: stocks of the world for fitting, with and without four pairs of readings.

python -m tests.simulation.diagnosis.drying 80

Every stock dries in its own way: by the simulator's technology, each ink by its own share, which the check's own wet
print shares within a tenth; every second stock is weaker while it is wet, which the simulator by itself does not draw.
Where hours are told, a wet chart was read within a time constant, others anywhere up to ten; the settings say nothing
of drying.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from demo.simulator.checks import LabelledCheck, draw_check
from demo.simulator.print_faults import DRYING_HOURS, Wet
from demo.simulator.sheets import read
from demo.simulator.spectra import FloatArray, lab_of
from sentinel.application.checking import examined
from sentinel.core.arrays import packed
from sentinel.core.diagnosis.drying import DryingBehaviour, drying_behaviour
from sentinel.core.diagnosis.reading_pairs import ReadTwice, drying_pair
from sentinel.core.diagnosis.sheet import Context
from sentinel.core.measurement import MeasurementCondition
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.scoring.score import Aim, Target, target_from
from sentinel.settings.diagnosis import DiagnosisTable, RecalibrationTable
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, MeasurementsTable, ReaderTable
from tests.simulation.diagnosis.figures import figures
from tests.simulation.diagnosis.judging import Judged, findings_of
from tests.simulation.diagnosis.worlds import FITTING

CASES = ("wet", "solid off", "wet", "tone shift", "wet", "drift", "healthy", "new lot")
PAIRS = ((0.2, 2.0), (0.5, 6.0), (0.1, 1.0), (1.0, 8.0))
"""Hours of the readings, in time constants of the ink."""


@dataclass(frozen=True, slots=True)
class Way:
    """How a check is asked for."""

    learnt: bool
    told: bool


WAYS = {
    "nothing told, nothing learnt": Way(learnt=False, told=False),
    "nothing told, four pairs": Way(learnt=True, told=False),
    "hours told, nothing learnt": Way(learnt=False, told=True),
    "hours told, four pairs": Way(learnt=True, told=True),
}


def own_way(check: LabelledCheck) -> FloatArray:
    """How much each ink of this stock takes part in drying; of every second stock ink looks weaker while it is wet."""
    rng = check.room.generator(7, check.paper)
    shares = rng.uniform(0.4, 1.6, len(check.chart.inks))
    return np.asarray(shares / shares.mean() * rng.choice([-1.0, 1.0]))


def drawn(number: int) -> LabelledCheck:
    """A check of the world for fitting; a wet one is wet in the way of its stock, as much as it was drawn."""
    check = draw_check(FITTING, number, (CASES[number % len(CASES)],), "short")
    if check.cases != ("wet",):
        return check
    rng = check.room.generator(8, number)
    [fault] = check.faults
    assert isinstance(fault, Wet)
    own = own_way(check) * rng.uniform(0.9, 1.1, len(check.chart.inks))
    wet = replace(fault, uneven=tuple(own.tolist()))
    scene = wet.scene(check.room.scene(check.paper))
    strayed = check.room.response(check.paper, check.kind).sheet(rng, check.room.noise(rng))
    spectra = scene.press.spectra(check.chart.device, scene.mode) * strayed
    reading = read(rng, spectra, check.room.instrument)
    return replace(check, faults=(wet,), scene=scene, reading=reading)


def learnt(check: LabelledCheck) -> DryingBehaviour | None:
    """From four sheets of the stock, each read twice."""
    room, hour = check.room, DRYING_HOURS[check.room.technology]
    found = []
    for number, hours in enumerate(PAIRS):
        rng = room.generator(9, check.paper, number)
        own = own_way(check) * rng.uniform(0.9, 1.1, len(check.chart.inks))
        size, uneven = float(rng.uniform(0.5, 1.2)), tuple(own.tolist())
        strayed = room.response(check.paper, check.kind).sheet(rng, room.noise(rng))
        readings = []
        for at in hours:
            scene = Wet(size=size, hours=at * hour, uneven=uneven).scene(room.scene(check.paper))
            spectra = scene.press.spectra(check.chart.device, scene.mode) * strayed
            lab = lab_of(read(rng, spectra, room.instrument))
            readings.append(packed(np.column_stack([lab, np.zeros(len(lab))])))
        first, second = (at * hour for at in hours)
        twice = ReadTwice("a/b", "b", check.inks, True, first, second, packed(check.chart.device), *readings)
        found.append(drying_pair(twice))
    return drying_behaviour([each for each in found if each is not None], "a/b", "b")


def asked(check: LabelledCheck, way: Way) -> Judged:
    """As the service would with what is known in this way."""
    rng = check.room.generator(10, check.number)
    hour, wet = DRYING_HOURS[check.room.technology], check.cases == ("wet",)
    hours = hour * float(rng.uniform(0.1, 1.0) if wet else np.exp(rng.uniform(np.log(0.1), np.log(10.0))))
    context = Context(hours_since_print=hours if way.told else None, drying=learnt(check) if way.learnt else None)
    [measurement] = read_measurements(check.file.encode(), ReaderTable().bounds(64))
    _, found, _ = examined(
        measurement,
        measurement.condition,
        [Aim(_target("aim", check.target), HOUSE_LIMITS, None)],
        MeasurementsTable().rules,
        DiagnosisTable().rules(RecalibrationTable().terms),
        lambda: [_target(name, text) for name, text in check.rivals.items()],
        lambda _: context,
    )
    told: Sequence[Mapping[str, Any]] = [each.as_record() for each in found]
    return Judged(check.cases, check.severity, check.labels, findings_of(told))


def _target(name: str, text: str) -> Target:
    return target_from(text.encode(), name, 1, "ink-space", MeasurementCondition())


def row(name: str, wet: bool, found: Sequence[Judged]) -> str:
    """Of the page."""
    some = [each for each in found if (each.cases == ("wet",)) == wet]
    made = figures(some)
    first = sum(bool(each.findings) and each.findings[0].cause == "possibly-not-dry" for each in some)
    right, wrong = (100 * (share or 0.0) for share in (made.right, made.confidently_wrong))
    what = "wet" if wet else "others"
    return f"| {name} | {what} | {len(some)} | {first} | {right:.0f} % | {wrong:.0f} % | {made.length or 0:.2f} |\n"


def main() -> None:
    """Prints the figures."""
    parser = argparse.ArgumentParser(description="Judges what sheets read twice are worth.")
    parser.add_argument("checks", type=int, help="how many checks")
    checks = [drawn(number) for number in range(parser.parse_args().checks)]
    sys.stdout.write(
        "| known | checks | | wet first | right | confidently wrong | answer |\n"
        "| --- | --- | ---: | ---: | ---: | ---: | ---: |\n"
    )
    for name, way in WAYS.items():
        found = list(map(partial(asked, way=way), checks))
        sys.stdout.write(row(name, True, found) + row(name, False, found))
        sys.stdout.flush()


if __name__ == "__main__":
    main()
