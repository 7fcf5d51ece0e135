"""Reflectance and XYZ to one scale: fractions or percent, decided on all rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.codes import Assumed, Refused
from sentinel.core.cgats.document import FloatArray, Table
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.notes import Notes
from sentinel.core.said import Text, said

FRACTION_UP_TO = 2.0
"""The perfect diffuser is 1; fluorescent inks and papers read above it (common practice, no published source)."""

PART_ABOVE = 0.25
"""Of the patches; fewer are a few broken values among fractions rather than a chart of blacks in percent."""

LOWEST, HIGHEST = -0.1, 3.0
"""Fractions of the perfect diffuser; beyond them a value is no reading but a fault (common practice)."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """What is scaled: its name in sentences, the code of its assumption, and what the perfect diffuser shall be."""

    name: Text
    assumed: Assumed
    perfect: float


REFLECTANCE = Quantity(said("reflectance"), Assumed.REFLECTANCE_SCALE, 1.0)
XYZ = Quantity("XYZ", Assumed.XYZ_SCALE, 100.0)


def scaled(
    values: FloatArray, fields: tuple[str, ...], table: Table, quantity: Quantity, percent: bool | None, notes: Notes
) -> FloatArray:
    """`values` (patches, n) in the quantity's scale; `percent` is what a field's name says, None where it is silent."""
    if percent is None:
        percent = _is_percent(values, table, quantity)
        stated = "0 to 100" if percent else "0 to 1"
        message = f"{quantity.name} was taken to be given from {stated}, by its largest value of {_largest(values):g}"
        notes.add(quantity.assumed, message, table.line)
    perfect = 100.0 if percent else 1.0
    _refuse_implausible(values, fields, perfect, table, quantity)
    if perfect == quantity.perfect:
        return values
    return values / perfect if quantity.perfect == 1.0 else values * quantity.perfect


def _largest(values: FloatArray) -> float:
    return float(np.fmax.reduce(values, axis=None))


def _is_percent(values: FloatArray, table: Table, quantity: Quantity) -> bool:
    """Percent if a good part of the patches reaches above what a fraction can be; fractions if none does."""
    tops = np.fmax.reduce(values, axis=1)
    patches, above = int(np.isfinite(tops).sum()), int((tops > FRACTION_UP_TO).sum())
    if above == 0:
        return False
    if above >= PART_ABOVE * patches and _largest(values) > 2 * FRACTION_UP_TO:
        return True
    message = said(
        "expected {quantity} from 0 to 1 or from 0 to 100, but {above} of {patches} patches reach above "
        "{fraction:g} and the largest value is {largest:g}, which fits neither",
        quantity=quantity.name,
        above=above,
        patches=patches,
        fraction=FRACTION_UP_TO,
        largest=_largest(values),
    )
    raise CgatsError(Refused.SCALE_AMBIGUOUS, message, table.line)


def _refuse_implausible(
    values: FloatArray, fields: tuple[str, ...], perfect: float, table: Table, quantity: Quantity
) -> None:
    outside = (values < LOWEST * perfect) | (values > HIGHEST * perfect)
    if outside.any():
        row, column = (int(index) for index in np.argwhere(outside)[0])
        message = said(
            "expected {quantity} between {lowest:g} and {highest:g}, but {value:g} came for {field}",
            quantity=quantity.name,
            lowest=LOWEST * perfect,
            highest=HIGHEST * perfect,
            value=float(values[row, column]),
            field=fields[column],
        )
        raise CgatsError(Refused.VALUE_IMPLAUSIBLE, message, *table.place(row, fields[column]))
