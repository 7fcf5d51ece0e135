"""Spectral columns to wavelengths and reflectance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.codes import Assumed, Refused
from sentinel.core.cgats.document import FloatArray, Table
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.fields import band, is_garbled_band
from sentinel.core.cgats.notes import Notes
from sentinel.core.cgats.scale import REFLECTANCE, scaled
from sentinel.core.said import said

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


def spectra(table: Table, notes: Notes) -> tuple[FloatArray, FloatArray] | None:
    """Wavelengths (bands,) in nm, rising at one interval, and reflectance (patches, bands), 1.0 the perfect diffuser.

    None where the table has no spectral columns. Raises `CgatsError` for doubled, irregular or far-off wavelengths.
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
    return wavelengths, scaled(values, tuple(fields), table, REFLECTANCE, bands.percent, notes)


def _bands(table: Table) -> _Bands:
    garbled = next((field for field in table.fields if is_garbled_band(field)), None)
    if garbled:
        message = said(
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
            message = said("expected all values as SPECTRAL_DEC or all as SPECTRAL_PCT, but both are there")
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
        message = said("expected each SPECTRAL_NM to be followed by its SPECTRAL_DEC or SPECTRAL_PCT")
        raise CgatsError(Refused.SPECTRUM_UNPAIRED, message, table.line)
    return pairs


def _one_wavelength(table: Table, field: str) -> int:
    column = table.number[field]
    different = np.flatnonzero(~(column == column[0]))
    if different.size or column[0] != np.floor(column[0]):
        row = int(different[0]) if different.size else 0
        message = said(
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
        message = said(
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
        message = said("expected each wavelength once, but {wavelength:g} nm came twice", wavelength=doubled)
        raise CgatsError(Refused.WAVELENGTH_DOUBLED, message, table.line)
    if not steps.size:
        message = said("expected wavelengths at one interval of 5, 10 or 20 nm, but one band alone came")
        raise CgatsError(Refused.WAVELENGTH_IRREGULAR, message, table.line)
    if steps[0] not in INTERVALS or (steps != steps[0]).any():
        message = said(
            "expected wavelengths at one interval of 5, 10 or 20 nm, but steps of {steps} came",
            steps=", ".join(f"{step:g}" for step in np.unique(steps)[:5]),
        )
        raise CgatsError(Refused.WAVELENGTH_IRREGULAR, message, table.line)
