"""The brightener index: M1 less M2 of the paper, where a file holds both."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.scoring.score import brightener_index
from tests.unit.core.builders import measurement

DEVICE = np.array([[0.0, 0, 0, 0], [100, 0, 0, 0], [0, 0, 0, 0], [0, 0, 0, 50]])
WITHOUT_UV = np.array([[94.0, 1, -2], [55, -36, -49], [94, 1, -2], [60, 0, 0]])


def read(
    m: str | None, lab: object = WITHOUT_UV, device: object = DEVICE, illuminant: str | None = None
) -> Measurement:
    condition = MeasurementCondition(m=m, illuminant=illuminant)  # type: ignore[arg-type]
    return measurement(device=device, lab=lab, condition=condition)  # type: ignore[arg-type]


WITH_UV = WITHOUT_UV + np.array([[0.5, 1.0, -6.0], [9, 9, 9], [0.7, 1.2, -6.4], [9, 9, 9]])


def test_it_is_the_mean_difference_of_the_paper_alone() -> None:
    found = brightener_index([read("M1", WITH_UV), read("M2")])
    assert found == pytest.approx({"dl": 0.6, "da": 1.1, "db": -6.2})
    assert brightener_index([read("M2"), read("M1", WITH_UV)]) == found


def test_readings_of_other_conditions_beside_them_do_not_matter() -> None:
    found = brightener_index([read("M0", WITH_UV + 1), read("M1", WITH_UV), read("M2"), read(None)])
    assert found == pytest.approx({"dl": 0.6, "da": 1.1, "db": -6.2})


@pytest.mark.parametrize(
    "file",
    [
        [],
        [read("M1")],
        [read("M1"), read("M0")],
        [read("M1"), read(None)],
        [read("M1", WITH_UV[[1, 3]], DEVICE[[1, 3]]), read("M2", WITHOUT_UV[[1, 3]], DEVICE[[1, 3]])],
        [read("M1"), read("M2", device=DEVICE + 7)],
        [read("M1"), read("M2", illuminant="D65")],
    ],
    ids=["nothing", "M1 alone", "no M2", "unknown", "no paper", "other charts", "another light"],
)
def test_without_the_paper_under_both_there_is_none(file: list[Measurement]) -> None:
    assert brightener_index(file) is None
