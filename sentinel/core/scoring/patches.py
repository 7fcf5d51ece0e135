"""The patches of a measurement with one colour each: replicates averaged, their spread kept."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.cgats.measurement import Measurement
from sentinel.core.colour.difference import de00
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.reasons import Code, Unscored


@dataclass(frozen=True, slots=True, eq=False)
class Patches:
    """Distinct patches in the order of their first reading.

    `keys` tell them apart; `first` (n,) is the row of each one's first reading in its measurement; `lab` (n, 3) under
    D50 and 2 degrees; `count` (n,) how many readings were averaged; `spread` (n,) the largest CIEDE2000 difference
    of a reading from that mean, 0 for a single one.
    """

    keys: tuple[Hashable, ...]
    first: np.ndarray[tuple[int], np.dtype[np.intp]]
    lab: FloatArray
    count: np.ndarray[tuple[int], np.dtype[np.intp]]
    spread: FloatArray


def averaged(measurement: Measurement, keys: Sequence[Hashable | None]) -> Patches:
    """The patches of a measurement, those of equal key averaged as reflectance, else Lab, else XYZ.

    A key of None and a reading with a missing value are left out. Raises Unscored where nothing is left or the
    colours are not for D50 and 2 degrees.
    """
    values, to_lab = colour_source(measurement)
    usable = np.asarray(~np.isnan(values).any(axis=1))
    order: dict[Hashable, int] = {}
    group = np.full(len(keys), -1, dtype=np.intp)
    for row, key in enumerate(keys):
        if key is not None and usable[row]:
            group[row] = order.setdefault(key, len(order))
    if not order:
        raise Unscored(Code.NO_READINGS, "expected at least one patch with all its values, got none")
    rows = np.flatnonzero(group >= 0)
    group = group[rows]
    count = np.bincount(group)
    lab_of_mean = to_lab(_means(values[rows], group, count))
    first = np.empty(len(order), dtype=np.intp)
    first[group[::-1]] = rows[::-1]
    spread = _spread(to_lab, values[rows], group, count, lab_of_mean)
    return Patches(tuple(order), first, lab_of_mean, count, spread)


def colour_source(measurement: Measurement) -> tuple[FloatArray, Callable[[FloatArray], FloatArray]]:
    """The values to average and the way from them to Lab: spectra where present, else Lab as given, else XYZ."""
    if measurement.reflectance is not None and measurement.wavelengths is not None:
        wavelengths = measurement.wavelengths
        return measurement.reflectance, lambda r: lab_from_xyz(xyz_from_reflectance(r, wavelengths), D50_ASTM_E308)
    values = measurement.lab if measurement.lab is not None else measurement.xyz
    if values is None:
        raise Unscored(
            Code.NO_READINGS, "expected spectral, Lab or XYZ columns, got a table without any measured colour"
        )
    _must_be_d50_2(measurement)
    if measurement.lab is not None:
        return values, lambda lab: lab
    return values, lambda xyz: lab_from_xyz(xyz, D50_ASTM_E308)


def _must_be_d50_2(measurement: Measurement) -> None:
    """Colours worked out for another light or observer cannot be turned back."""
    illuminant, observer = measurement.condition.illuminant, measurement.condition.observer
    if illuminant not in (None, "D50") or observer not in (None, 2):
        raise Unscored(
            Code.NOT_D50_2,
            f"expected colours for D50 and the 2 degree observer, got {illuminant or 'an unnamed illuminant'} and "
            f"{f'{observer} degrees' if observer else 'an unnamed observer'}, without spectra to work from",
        )


def _means(values: FloatArray, group: np.ndarray, count: np.ndarray) -> FloatArray:
    if len(values) == len(count):
        return values
    sums = np.zeros((len(count), values.shape[1]))
    np.add.at(sums, group, values)
    means: FloatArray = sums / count[:, None]
    return means


def _spread(
    to_lab: Callable[[FloatArray], FloatArray],
    values: FloatArray,
    group: np.ndarray,
    count: np.ndarray,
    means: FloatArray,
) -> FloatArray:
    spread = np.zeros(len(count))
    repeated = np.flatnonzero(count[group] > 1)
    if repeated.size:
        away = de00(means[group[repeated]], to_lab(values[repeated]))
        np.maximum.at(spread, group[repeated], away)
    return spread
