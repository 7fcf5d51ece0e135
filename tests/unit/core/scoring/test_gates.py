"""What must agree before two measurements may be compared: M condition and backing."""

from __future__ import annotations

import itertools

import pytest

from sentinel.core.measurement import MeasurementCondition
from sentinel.core.scoring.agreement import comparable
from sentinel.core.verdict import Unscored
from tests.unit.core.builders import codes

MS = ("M0", "M1", "M2", "M3")


def under(m: str | None = None, backing: str | None = None) -> MeasurementCondition:
    return MeasurementCondition(m=m, backing=backing)  # type: ignore[arg-type]


def refused(target: MeasurementCondition, sample: MeasurementCondition, unknown_scored: bool = True) -> Unscored:
    with pytest.raises(Unscored) as refusal:
        comparable(target, sample, unknown_scored)
    return refusal.value


@pytest.mark.parametrize("m", MS)
def test_the_same_m_condition_needs_no_remark(m: str) -> None:
    assert comparable(under(m), under(m), unknown_m_scored=False) == ()


@pytest.mark.parametrize(("target", "sample"), list(itertools.permutations(MS, 2)))
def test_two_m_conditions_are_never_compared(target: str, sample: str) -> None:
    reason = refused(under(target), under(sample)).reason
    assert reason.code == "m-condition-mismatch"
    assert str(reason.message) == f"expected measurement condition {target} as for the aim, got {sample}"


@pytest.mark.parametrize(
    ("target", "sample", "silent"),
    [
        (None, None, "the aim and the measurement"),
        ("M1", None, "the measurement"),
        (None, "M1", "the aim"),
    ],
)
def test_an_unknown_m_condition_is_scored_with_a_remark_or_not_at_all(
    target: str | None, sample: str | None, silent: str
) -> None:
    [remark] = comparable(under(target), under(sample), unknown_m_scored=True)
    assert remark.code == "m-condition-unknown"
    assert str(remark.message).endswith(f"not told by {silent}")
    assert refused(under(target), under(sample), unknown_scored=False).reason == remark


@pytest.mark.parametrize(("target", "sample"), [("white", "black"), ("black", "white")])
def test_black_and_white_backing_are_never_compared(target: str, sample: str) -> None:
    reason = refused(under("M1", target), under("M1", sample)).reason
    assert reason.code == "backing-mismatch"
    assert str(reason.message) == f"expected a {target} backing as for the aim, got {sample}"


@pytest.mark.parametrize(
    ("target", "sample"), [("white", "white"), ("black", "black"), ("white", None), (None, "black"), (None, None)]
)
def test_equal_or_unknown_backings_are_compared(target: str | None, sample: str | None) -> None:
    assert codes(comparable(under("M1", target), under("M1", sample), unknown_m_scored=False)) == []
