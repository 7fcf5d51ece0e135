"""Spectral columns to wavelengths and reflectance, and quantities to one scale: fractions or percent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement.cgats.document import Notes, Table
from sentinel.core.measurement.cgats.faults import Assumed, CgatsError, Refused
from sentinel.core.measurement.cgats.fields import band, is_garbled_band
from sentinel.core.measurement.cgats.ranges import PlausibleRange, refuse_outside
from sentinel.core.message import Text, msg

FRACTION_UP_TO = 2.0
"""The perfect diffuser is 1; fluorescent inks and papers read above it (common practice, no published source)."""

PART_ABOVE = 0.25
"""Of the patches; fewer are a few broken values among fractions rather than a chart of blacks in percent."""

LOWEST, HIGHEST = -0.1, 3.0
"""Fractions of the perfect diffuser; beyond them a value is no reading but a fault (common practice)."""


@dataclass(frozen=True, slots=True)
class ScaledQuantity:
    """What is scaled: its name in sentences, the code of its assumption, and what the perfect diffuser shall be."""

    name: Text
    assumed: Assumed
    perfect: float


REFLECTANCE = ScaledQuantity(msg("reflectance"), Assumed.REFLECTANCE_SCALE, 1.0)
XYZ = ScaledQuantity("XYZ", Assumed.XYZ_SCALE, 100.0)


def scaled(
    values: FloatArray,
    fields: tuple[str, ...],
    table: Table,
    quantity: ScaledQuantity,
    percent: bool | None,
    notes: Notes,
) -> FloatArray:
    """`values` (patches, n) in the quantity's scale; `percent` is what a field's name says, None where it is silent."""
    if percent is None:
        percent = _is_percent(values, table, quantity)
        stated = "0 to 100" if percent else "0 to 1"
        message = f"{quantity.name} was taken to be given from {stated}, by its largest value of {_largest(values):g}"
        notes.add(quantity.assumed, message, table.line)
    perfect = 100.0 if percent else 1.0
    refuse_outside(values, fields, PlausibleRange(quantity.name, LOWEST * perfect, HIGHEST * perfect), table)
    if perfect == quantity.perfect:
        return values
    return values / perfect if quantity.perfect == 1.0 else values * quantity.perfect


def _largest(values: FloatArray) -> float:
    return float(np.fmax.reduce(values, axis=None))


def _is_percent(values: FloatArray, table: Table, quantity: ScaledQuantity) -> bool:
    """Percent if a good part of the patches reaches above what a fraction can be; fractions if none does."""
    tops = np.fmax.reduce(values, axis=1)
    patches, above = int(np.isfinite(tops).sum()), int((tops > FRACTION_UP_TO).sum())
    if above == 0:
        return False
    if above >= PART_ABOVE * patches and _largest(values) > 2 * FRACTION_UP_TO:
        return True
    message = msg(
        "expected {quantity} from 0 to 1 or from 0 to 100, but {above} of {patches} patches reach above "
        "{fraction:g} and the largest value is {largest:g}, which fits neither",
        quantity=quantity.name,
        above=above,
        patches=patches,
        fraction=FRACTION_UP_TO,
        largest=_largest(values),
    )
    raise CgatsError(Refused.SCALE_AMBIGUOUS, message, table.line)


INTERVALS = (5, 10, 20)
"""nm; those of the weighting tables a spectrum can be computed with (ASTM E308) and 5 nm."""

RANGE = (340, 850)
"""nm; CGATS.17 readings lie within it (common practice, no published source)."""


@dataclass(frozen=True, slots=True)
class _Bands:
    """The columns that hold reflectance, and the wavelength of each; `percent` where the name says the scale."""

    wavelengths: tuple[int, ...]
    fields: tuple[str, ...]
    percent: bool | None


def spectra(table: Table, notes: Notes, have_lab: bool = False) -> tuple[FloatArray, FloatArray] | None:
    """Wavelengths (bands,) in nm, rising at one interval, and reflectance (patches, bands), 1.0 the perfect diffuser.

    Bands at the ends that no row has a value in are left out where the others cover what colours need; where they do
    not, the spectra give way to Lab if the table has it. None where the table has no spectral columns. Raises
    `CgatsError` for doubled, irregular or far-off wavelengths.
    """
    bands = _bands(table)
    if not bands.fields:
        return None
    order = np.argsort(bands.wavelengths, kind="stable")
    wavelengths = np.array(bands.wavelengths, np.float64)[order]
    _check(wavelengths, table)
    if not np.array_equal(order, np.arange(len(order))):
        message = "the spectral columns were sorted by wavelength"
        notes.add(Assumed.WAVELENGTHS_SORTED, message, table.line)
    fields = [bands.fields[index] for index in order]
    values = np.column_stack([table.number[field] for field in fields])
    values = scaled(values, tuple(fields), table, REFLECTANCE, bands.percent, notes)
    return _measured(wavelengths, values, table, notes, have_lab)


NEEDED = (400.0, 700.0)
"""nm; ASTM E308 folds the ends beyond into the last bands (see `sentinel.core.colour.bands`)."""


def _measured(
    wavelengths: FloatArray, values: FloatArray, table: Table, notes: Notes, have_lab: bool
) -> tuple[FloatArray, FloatArray] | None:
    """The spectra without bands at the ends that no row has a value in."""
    if not (np.isnan(values[0, 0]) or np.isnan(values[0, -1])):
        return wavelengths, values
    there = np.flatnonzero(~np.isnan(values).all(axis=0))
    first, last = (int(there[0]), int(there[-1])) if len(there) else (0, 0)
    if last - first + 1 == len(wavelengths):
        return wavelengths, values
    if wavelengths[first] <= NEEDED[0] and wavelengths[last] >= NEEDED[1]:
        left = len(wavelengths) - (last - first + 1)
        message = f"{left} spectral bands at the ends have no values and were left out"
        notes.add(Assumed.BANDS_EMPTY, message, table.line)
        return wavelengths[first : last + 1], np.ascontiguousarray(values[:, first : last + 1])
    if not have_lab:
        return wavelengths, values
    message = "too few spectral bands have values; Lab was taken instead"
    notes.add(Assumed.SPECTRUM_LEFT_OUT, message, table.line)
    return None


def _bands(table: Table) -> _Bands:
    garbled = next((field for field in table.fields if is_garbled_band(field)), None)
    if garbled:
        message = msg(
            "expected a wavelength in the name of a spectral column, such as SPECTRAL_NM380, but {field} came",
            field=garbled,
        )
        raise CgatsError(Refused.WAVELENGTH_UNREADABLE, message, table.line)
    named = [(wavelength, field) for field in table.fields if (wavelength := band(field)) is not None]
    pairs = _pairs(table)
    percent = None
    if pairs:
        kinds = {value.partition(" ")[0] for _, value in pairs}
        if len(kinds) > 1:
            message = msg("expected all values as SPECTRAL_DEC or all as SPECTRAL_PCT, but both are there")
            raise CgatsError(Refused.SPECTRUM_UNPAIRED, message, table.line)
        percent = kinds == {"SPECTRAL_PCT"}
        named += [(_one_wavelength(table, field), value) for field, value in pairs]
    wavelengths, fields = zip(*named, strict=True) if named else ((), ())
    return _Bands(wavelengths, fields, percent if len(named) == len(pairs) else None)


def _pairs(table: Table) -> list[tuple[str, str]]:
    """The SPECTRAL_NM columns, each with the value that follows it."""
    columns = [f for f in table.fields if f.partition(" ")[0] in ("SPECTRAL_NM", "SPECTRAL_DEC", "SPECTRAL_PCT")]
    pairs = list(zip(columns[::2], columns[1::2], strict=False))
    if len(columns) % 2 or any(
        not wavelength.startswith("SPECTRAL_NM") or value.startswith("SPECTRAL_NM") for wavelength, value in pairs
    ):
        message = msg("expected each SPECTRAL_NM to be followed by its SPECTRAL_DEC or SPECTRAL_PCT")
        raise CgatsError(Refused.SPECTRUM_UNPAIRED, message, table.line)
    return pairs


def _one_wavelength(table: Table, field: str) -> int:
    column = table.number[field]
    different = np.flatnonzero(~(column == column[0]))
    if different.size or column[0] != np.floor(column[0]):
        row = int(different[0]) if different.size else 0
        message = msg(
            "expected one wavelength in whole nm all down {field}, but {came} came after {first}",
            field=field,
            came=f"{column[row]:g}",  # texts, since JSON has no number for a missing value
            first=f"{column[0]:g}",
        )
        raise CgatsError(Refused.WAVELENGTH_VARIES, message, *table.place(row, field))
    return int(column[0])


def _check(wavelengths: FloatArray, table: Table) -> None:
    low, high = RANGE
    if wavelengths[0] < low or wavelengths[-1] > high:
        message = msg(
            "expected wavelengths from {low} to {high} nm, but {first:g} to {last:g} came",
            low=low,
            high=high,
            first=float(wavelengths[0]),
            last=float(wavelengths[-1]),
        )
        raise CgatsError(Refused.WAVELENGTH_OUT_OF_RANGE, message, table.line)
    steps = np.diff(wavelengths)
    if (steps == 0).any():
        doubled = float(wavelengths[int(np.argmin(steps))])
        message = msg("expected each wavelength once, but {wavelength:g} nm came twice", wavelength=doubled)
        raise CgatsError(Refused.WAVELENGTH_DOUBLED, message, table.line)
    if not steps.size:
        message = msg("expected wavelengths at one interval of 5, 10 or 20 nm, but one band alone came")
        raise CgatsError(Refused.WAVELENGTH_IRREGULAR, message, table.line)
    if steps[0] not in INTERVALS or (steps != steps[0]).any():
        message = msg(
            "expected wavelengths at one interval of 5, 10 or 20 nm, but steps of {steps} came",
            steps=", ".join(f"{step:g}" for step in np.unique(steps)[:5]),
        )
        raise CgatsError(Refused.WAVELENGTH_IRREGULAR, message, table.line)
