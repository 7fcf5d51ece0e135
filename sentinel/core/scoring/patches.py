"""The patches of a measurement with one colour each: replicates averaged, their spread kept."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.measurement import About, Measurement
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Reason, Unscored

Counts = npt.NDArray[np.intp]
ToLab = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class Patches:
    """Distinct patches in the order of their first reading.

    `keys` tell them apart; `first` (n,) is the row of each one's first reading in its measurement; `lab` (n, 3) under
    D50 and 2 degrees; `count` (n,) how many readings were averaged; `spread` (n,) the largest CIEDE2000 difference
    of a reading from that mean, 0 for a single one; `values` (n, columns) the means themselves, see `colour_source`.
    """

    keys: tuple[Hashable, ...]
    first: Counts
    lab: FloatArray
    count: Counts
    spread: FloatArray
    values: FloatArray


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
        return Patches(keys, first, to_lab(means), count, spread, means)
    again = np.flatnonzero(count[group] > 1)
    readings, turn = values[rows[again]], np.searchsorted(several, group[again])
    sums = np.zeros((len(several), values.shape[1]))
    np.add.at(sums, turn, readings)
    means[several] = sums / count[several, None]
    lab = to_lab(means)
    np.maximum.at(spread, group[again], de00(lab[group[again]], to_lab(readings)))
    return Patches(keys, first, lab, count, spread, means)


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


APART = 1.0
"""Mean ΔE00 between Lab and spectra of one file that no instrument's own arithmetic reaches (common practice)."""

ARITHMETIC = 0.1
"""Mean ΔE00 that rounded spectra and another table of weights make, most of it in dark patches."""


def held_against_itself(measurement: Measurement) -> tuple[Reason, ...]:
    """A remark where Lab for D50 and 2 degrees and the spectra beside it differ by more than rounding.

    Raises Unscored where they do by more than any instrument makes of one reading.
    """
    lab, condition = measurement.lab, measurement.condition
    unclear = measurement.interpretation.about("light")
    if measurement.reflectance is None or lab is None or unclear:
        return ()
    if condition.illuminant not in (None, "D50") or condition.observer not in (None, 2):
        return ()
    values, to_lab = colour_source(measurement)
    both = ~(np.isnan(values).any(axis=1) | np.isnan(lab).any(axis=1))
    if not both.any():
        return ()
    mean = float(de00(lab[both], to_lab(values[both])).mean())
    if mean >= APART:
        raise Unscored(
            Code.CONTRADICTS_ITSELF,
            msg(
                "expected Lab and spectra of one reading to agree, but they are {mean:.2f} ΔE00 apart on average: "
                "export both for D50 and 2 degrees, and from the same reading",
                mean=mean,
            ),
        )
    if mean <= ARITHMETIC + _rounding(lab[both]):
        return ()
    message = msg(
        "the file's Lab is {mean:.2f} ΔE00 on average from that of its spectra, more than rounding explains; the "
        "spectra were taken",
        mean=mean,
    )
    return (Reason(Code.CONTRADICTS_ITSELF, message),)


def _rounding(lab: FloatArray) -> float:
    """The step values were rounded to, learnt from their digits: 1, 0.1, 0.01, or 0 for finer ones.

    ΔE00 of rounded neutrals is on average about three quarters of it.
    """
    steps = (1.0, 0.1, 0.01)
    return next((step for step in steps if (abs(lab / step - np.rint(lab / step)) < 1e-6).all()), 0.0)


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
