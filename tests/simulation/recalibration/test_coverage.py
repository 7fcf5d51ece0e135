"""The study of sentinel/core/recalibration/README.md on fewer checks, with every run.

Bounds leave three standard errors of so few checks; the two sheets of a check count as one.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from demo.simulator.files import Values
from demo.simulator.rooms import Kind
from tests.simulation.recalibration.prints import Outcome
from tests.simulation.recalibration.study import covered, outcomes
from tests.support.amount import amount

CHECKS = amount(14, long=84)
LEAST = 0.9 - 3 * float(np.sqrt(0.9 * 0.1 / CHECKS))


@cache
def reported(kind: Kind, values: Values) -> list[Outcome]:
    return outcomes("reported", CHECKS, kind, values, processes=1)


@pytest.mark.parametrize(("kind", "values"), [("full", "spectra"), ("short", "spectra"), ("short", "Lab")])
def test_sheets_printed_with_the_curves_fall_within_the_bands(kind: Kind, values: Values) -> None:
    assert min(covered(reported(kind, values))) >= LEAST


def test_curves_bring_wrong_tone_scales_back_and_leave_healthy_prints_as_they_were() -> None:
    found = reported("full", "spectra")
    means = {case: np.array([(e.now[0], e.shown[:, 0].mean()) for e in found if e.case == case]) for case in _CASES}
    assert (means["humidity"][:, 1] < 0.5 * means["humidity"][:, 0]).all()
    assert means["tone shift"][:, 1].mean() < 0.6 * means["tone shift"][:, 0].mean()
    assert means["healthy"][:, 1].mean() < means["healthy"][:, 0].mean() + 0.1


_CASES = ("humidity", "tone shift", "healthy")
