"""Between which values a column can be meant: what lies outside is a fault of the export and no reading.

Fluorescent inks and papers read above the perfect diffuser, dark noise reads slightly below nothing. Missing values are
told by words (`numbers`), never by a number that stands for them. The limits are common practice, from no published
source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement.cgats.document import Table
from sentinel.core.measurement.cgats.faults import CgatsError, Refused
from sentinel.core.message import Text, msg


@dataclass(frozen=True, slots=True)
class PlausibleRange:
    """From `lowest` to `highest`, both allowed; `name` is what is called so in sentences."""

    name: Text
    lowest: float
    highest: float


_OPPONENT = PlausibleRange("a*, b*", -200.0, 200.0)
_CHROMATICITY = PlausibleRange("x, y", -1.0, 2.0)
_DENSITY = PlausibleRange(msg("density"), -0.5, 6.0)

RANGES: Mapping[str, PlausibleRange] = {
    "LAB_L": PlausibleRange("L*", -10.0, 150.0),
    "LAB_A": _OPPONENT,
    "LAB_B": _OPPONENT,
    "LAB_C": PlausibleRange("C*", 0.0, 300.0),
    "LAB_H": PlausibleRange("h", -360.0, 360.0),
    "XYY_X": _CHROMATICITY,
    "XYY_Y": _CHROMATICITY,
    "D_RED": _DENSITY,
    "D_GREEN": _DENSITY,
    "D_BLUE": _DENSITY,
    "D_VIS": _DENSITY,
}
"""By the field; reflectance and XYZ have theirs by their scale (`reflectance`)."""

DEVICE = PlausibleRange(msg("device values"), -0.5, 65_535.5)
"""Up to those of 16 bits; which scale they are given on is told apart later (`device`)."""


def refuse_implausible(table: Table) -> None:
    """Raises CgatsError at the first cell outside the range of its field."""
    for field, plausible in RANGES.items():
        if field in table.number:
            refuse_outside(table.number[field][:, None], (field,), plausible, table)


def refuse_outside(values: FloatArray, fields: Sequence[str], plausible: PlausibleRange, table: Table) -> None:
    """Raises CgatsError at the first of the values (patches, fields) outside the range."""
    outside = (values < plausible.lowest) | (values > plausible.highest)
    if outside.any():
        row, column = divmod(int(outside.argmax()), values.shape[1])
        message = msg(
            "expected {quantity} between {lowest:g} and {highest:g}, but {value:g} came for {field}",
            quantity=plausible.name,
            lowest=plausible.lowest,
            highest=plausible.highest,
            value=float(values[row, column]),
            field=fields[column],
        )
        raise CgatsError(Refused.VALUE_IMPLAUSIBLE, message, *table.place(row, fields[column]))
