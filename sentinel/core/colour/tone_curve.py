"""The tone curve of an ink: tone value over nominal value, and its error against the target's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.colour.arrays import FloatArray
from sentinel.core.colour.monotone import monotone_interpolation


@dataclass(frozen=True, slots=True, eq=False)
class ToneCurve:
    """Tone values (per cent) at rising nominal values (per cent), from 0 to 100: (n,) each."""

    nominal: FloatArray
    value: FloatArray

    def at(self, nominal: FloatArray) -> FloatArray:
        """Tone values at any nominal values of 0 to 100, by monotone interpolation; NaN outside."""
        return monotone_interpolation(self.nominal, self.value, nominal)


def tone_curve(nominal: FloatArray, value: FloatArray) -> ToneCurve:
    """The curve through measured steps, (n,) each, in any order.

    Steps of the same nominal value are averaged and missing ones (NaN) left out. Paper is 0 and
    solid 100 by definition, so the curve has its ends even where no step was printed there.
    """
    known = ~(np.isnan(nominal) | np.isnan(value)) & (nominal > 0) & (nominal < 100)
    steps, step_of = np.unique(nominal[known], return_inverse=True)
    mean = np.bincount(step_of, weights=value[known]) / np.bincount(step_of)
    return ToneCurve(
        nominal=np.concatenate(([0.0], steps, [100.0])),
        value=np.concatenate(([0.0], mean, [100.0])),
    )


def tone_error(measured: ToneCurve, target: ToneCurve) -> FloatArray:
    """Measured less target tone value, signed, at each measured nominal value: (n,)."""
    return measured.value - target.at(measured.nominal)
