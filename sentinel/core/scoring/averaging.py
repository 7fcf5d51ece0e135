"""The distinct patches of a measurement, readings of one averaged, and their colours."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.measurement import About, Measurement
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Unscored

Counts = npt.NDArray[np.intp]
ToLab = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class Patches:
    """Distinct patches in the order of their first reading.

    `keys` tell them apart; `first` (n,) is the row of each one's first reading in its measurement; `lab` (n, 3) under
    D50 and 2 degrees; `count` (n,) how many readings were averaged; `spread` (n,) the largest CIEDE2000 difference
    of a reading from that mean, 0 for a single one; `values` (n, columns) the means themselves, see `colour_source`.
    `apart` (n,) are those whose readings cannot be of one patch: they were not averaged, the first stands for them.
    """

    keys: tuple[Hashable, ...]
    first: Counts
    lab: FloatArray
    count: Counts
    spread: FloatArray
    values: FloatArray
    apart: BoolArray


REPLICATES_APART = 10.0
"""ΔE00 of a reading from the mean of its patch; two readings lie twice as far from each other. Replicates on one sheet
differ by single ΔE at most, however uneven the print (common practice, no published source)."""


def averaged(measurement: Measurement, keys: Sequence[Hashable | None]) -> Patches:
    """The patches of a measurement, those of equal key averaged as reflectance, else Lab, else XYZ.

    A key of None and a reading with a missing value are left out. Raises Unscored where nothing is left or the
    colours are not for D50 and 2 degrees.
    """
    values, to_lab = colour_source(measurement)
    whole = np.asarray(~np.isnan(values).any(axis=1)).tolist()
    rows = [row for row, key in enumerate(keys) if key is not None and whole[row]]
    if not rows:
        raise Unscored(Code.NO_READINGS, msg("expected at least one patch with all its values, got none"))
    kept = [keys[row] for row in rows]
    place = {key: number for number, key in enumerate(dict.fromkeys(kept))}
    return _averaged(tuple(place), values, to_lab, np.array(rows), np.array([place[key] for key in kept]))


def _averaged(keys: tuple[Hashable, ...], values: FloatArray, to_lab: ToLab, rows: Counts, group: Counts) -> Patches:
    """`rows` are the readings in order, `group` the patch each belongs to."""
    count = np.bincount(group)
    first = np.empty(len(keys), dtype=np.intp)
    first[group[::-1]] = rows[::-1]
    means = values[first]
    spread = np.zeros(len(keys))
    several = np.flatnonzero(count > 1)  # most charts repeat few patches or none
    if not len(several):
        return Patches(keys, first, to_lab(means), count, spread, means, spread > 0)
    again = np.flatnonzero(count[group] > 1)
    readings, turn = values[rows[again]], np.searchsorted(several, group[again])
    sums = np.zeros((len(several), values.shape[1]))
    np.add.at(sums, turn, readings)
    means[several] = sums / count[several, None]
    lab = to_lab(means)
    np.maximum.at(spread, group[again], de00(lab[group[again]], to_lab(readings)))
    apart = spread > REPLICATES_APART
    if apart.any():
        means[apart] = values[first[apart]]
        lab[apart] = to_lab(means[apart])
    return Patches(keys, first, lab, count, spread, means, apart)


def colour_source(measurement: Measurement) -> tuple[FloatArray, ToLab]:
    """The values to average and the way from them to Lab: spectra where present, else Lab as given, else XYZ.

    Raises Unscored where there are none, or where what they are cannot be told.
    """
    _must_be_understood(measurement, "patches", "values")
    if measurement.reflectance is not None and measurement.wavelengths is not None:
        wavelengths = measurement.wavelengths
        bandpass = measurement.condition.bandpass or "corrected"  # as ISO 13655's tables take what is not told

        def lab_of(reflectance: FloatArray) -> FloatArray:
            return lab_from_xyz(xyz_from_reflectance(reflectance, wavelengths, bandpass=bandpass), D50_ASTM_E308)

        return measurement.reflectance, lab_of
    values = measurement.lab if measurement.lab is not None else measurement.xyz
    if values is None:
        raise Unscored(
            Code.NO_READINGS, msg("expected spectral, Lab or XYZ columns, got a table without any measured colour")
        )
    _must_be_understood(measurement, "light")
    _must_be_d50_2(measurement)
    if measurement.lab is not None:
        return values, lambda lab: lab
    return values, lambda xyz: lab_from_xyz(xyz, D50_ASTM_E308)


def _must_be_understood(measurement: Measurement, *matters: About) -> None:
    unclear = measurement.interpretation.about(*matters)
    if unclear:
        raise Unscored(unclear.reason.code, unclear.message)


def _must_be_d50_2(measurement: Measurement) -> None:
    """Colours worked out for another light or observer cannot be turned back."""
    illuminant, observer = measurement.condition.illuminant, measurement.condition.observer
    if illuminant not in (None, "D50") or observer not in (None, 2):
        raise Unscored(
            Code.NOT_D50_2,
            msg(
                "expected colours for D50 and the 2 degree observer, got {illuminant} and {observer}, without spectra "
                "to work from",
                illuminant=illuminant or msg("an unnamed illuminant"),
                observer=msg("{degrees} degrees", degrees=observer) if observer else msg("an unnamed observer"),
            ),
        )
