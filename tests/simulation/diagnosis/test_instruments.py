"""The second instrument of the study, and that `sentinel check` names it by the serial numbers of two files."""

from __future__ import annotations

import numpy as np
import pytest

from demo.simulator.spectra import lab_of
from sentinel.core.colour.difference import de00
from tests.simulation.diagnosis.instruments import CASES, CAUSE, drawn, outcome, read_by_another
from tests.simulation.diagnosis.samples import Sample
from tests.simulation.diagnosis.worlds import FITTING


@pytest.mark.parametrize("apart", [0.5, 2.0])
def test_the_second_instrument_is_as_far_from_the_first_as_asked(apart: float) -> None:
    check = Sample(FITTING, 3, ("healthy",), "short").draw()
    reading = read_by_another(np.random.default_rng(1), check, apart)
    assert de00(lab_of(check.reading), lab_of(reading)).mean() == pytest.approx(apart, rel=0.02)


def test_no_error_is_no_difference() -> None:
    spectra = np.random.default_rng(2).uniform(0.05, 0.9, (4, 36))
    none = drawn(np.random.default_rng(3)).times(0.0)
    np.testing.assert_allclose(none.reads(spectra, spectra), spectra)


def test_a_check_names_it_by_serial_numbers_and_beside_a_fault() -> None:
    tone = CASES.index("tone shift")
    told, same = (outcome(FITTING, tone, to) for to in ("yes", "same"))
    assert {CAUSE, "tone-shift"} <= told.answer
    assert same.answer == {"tone-shift"}
    assert CAUSE not in {each.cause for each in same.findings}
