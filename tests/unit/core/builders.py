"""Small builders of the values the core works on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt

from sentinel.core.conditions.due import DueRules, PastCheck
from sentinel.core.conditions.state import Situation, StateReport, derive
from sentinel.core.measurement import Chart, Measurement, MeasurementCondition
from sentinel.core.verdict import Reason, Verdict

FloatArray = npt.NDArray[np.float64]
Rows = npt.ArrayLike

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
SILENT = MeasurementCondition()
CMYK = ("C", "M", "Y", "K")
WAVELENGTHS = np.arange(380.0, 731.0, 10.0)


def days(count: float) -> timedelta:
    return timedelta(days=count)


def past(
    verdict: Verdict = Verdict.PASS, at: datetime = NOON, seq: int = 1, *, recovered: bool | None = None
) -> PastCheck:
    """A failed check recovers nothing; another does unless it is said not to."""
    return PastCheck(seq, at, verdict, verdict is not Verdict.FAIL if recovered is None else recovered)


def derived(
    *checks: PastCheck,
    obstacles: tuple[Reason, ...] = (),
    max_age: timedelta = timedelta(days=7),
    now: datetime = NOON,
) -> StateReport:
    """The state of a condition with these checks."""
    return derive(Situation(DueRules(max_age), checks, obstacles=obstacles), now)


def codes(reasons: Iterable[Reason]) -> list[str]:
    return [reason.code.value for reason in reasons]


def measurement(
    *,
    device: Rows | None = None,
    inks: Sequence[str] = CMYK,
    ids: Sequence[str] | None = None,
    names: Sequence[str] | None = None,
    lab: Rows | None = None,
    xyz: Rows | None = None,
    reflectance: Rows | None = None,
    wavelengths: FloatArray = WAVELENGTHS,
    condition: MeasurementCondition = SILENT,
) -> Measurement:
    """A reading of as many patches as its values have rows; a chart without inks where no device values are given."""
    count = len(next(np.asarray(rows) for rows in (reflectance, lab, xyz, device, ids) if rows is not None))
    chart = Chart(
        ids=tuple(ids or map(str, range(1, count + 1))),
        names=None if names is None else tuple(names),
        inks=() if device is None else tuple(inks),
        device=np.empty((count, 0)) if device is None else _array(device),
    )
    return Measurement(
        table=1,
        chart=chart,
        condition=condition,
        wavelengths=None if reflectance is None else wavelengths,
        reflectance=None if reflectance is None else _array(reflectance),
        lab=None if lab is None else _array(lab),
        xyz=None if xyz is None else _array(xyz),
        instrument=None,
        serial=None,
        created=None,
        keywords={},
        assumptions=(),
    )


def _array(rows: Rows) -> FloatArray:
    return np.asarray(rows, dtype=np.float64)


def black_steps(count: int, lightness: float = 90.0, step: float = -4.0) -> tuple[FloatArray, FloatArray]:
    """Device values (count, 4) and Lab (count, 3) of a scale of black from paper up, one per cent a patch."""
    device = np.zeros((count, 4))
    device[:, 3] = np.arange(count)
    lab = np.zeros((count, 3))
    lab[:, 0] = lightness + step * np.arange(count)
    return device, lab
