"""Which columns are amounts of ink or light, from where to where they are given, and which columns tell patches apart.

The colours read decide where names do not: both on the scale and on whether rows of equal amounts are one patch.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement.cgats.document import Notes, Table
from sentinel.core.measurement.cgats.faults import Assumed
from sentinel.core.measurement.cgats.fields import band, ink, is_value
from sentinel.core.measurement.cgats.ranges import DEVICE, refuse_outside
from sentinel.core.measurement.interpretation import Unclear
from sentinel.core.message import Message, msg

Rows = npt.NDArray[np.intp]
RoughColours = Callable[[], FloatArray | None]
"""(patches, 3), as far apart as people see them, roughly; None without readings."""

_CHANNEL = re.compile(
    r"(?P<cmyk>CMYK[A-Z0-9]*)_(?P<ink>[A-Z0-9]+)|(?:SPOT|INK|COLORANT|COLOURANT|CHANNEL)(?:_\w+|\d+)"
    r"|(?:PC|GR[AE]Y|LIGHT|LT)_\w+|(?:L|LL)[CMYK]|\d{1,2}CLR?_\w+"
)
"""Names of ink columns beside those of the standard (common practice, no published source)."""
_WORDS = {
    "CYAN": "C",
    "MAGENTA": "M",
    "YELLOW": "Y",
    "BLACK": "K",
    "ORANGE": "O",
    "GREEN": "G",
    "VIOLET": "V",
    "RED": "R",
    "BLUE": "B",
}
_INK_WORD = re.compile(
    rf"(?:(?:L|LIGHT|LT|PALE|PHOTO|MATTE)_?)?(?:{'|'.join(_WORDS)}|GR[AE]Y)(?:_?\d)?"
    r"|WHITE|VARNISH|CLEAR|GOLD|SILVER|PINK|(?:CH|MULTI|COLOU?R)_?\d{1,2}"
)
"""Names that an ink and a reading may both have: an ink where they part rows that are far apart in colour."""
_SPELT = re.compile(rf"(?P<before>(?:PC|DEVICE|DEV|INK|PROCESS)_)?(?P<ink>{'|'.join(_WORDS)}|[CMYKOGVRB])")
"""Ink columns of a chart that has none under the standard's names."""
_MEASURED = re.compile(
    r"(?:LAB|LCH|XYZ|XYY|LUV|CIE|STDEV|STD|DE|DELTA|D|DENS(?:ITY)?|TVI|DOT|GLOSS|OPACITY)(?:_.*|\d*)"
    r"|(?:TEMP|HUM)\w*(?:_.*)?"
)
_FAR_APART = 20.0
"""Replicates of a patch differ by single ΔE at most; tens are two patches or a misread strip (common practice)."""
_CLOSE = 3.0
_BRIGHT = 75.0
"""L*: no printer's light from 100 of 255 reaches it, and every white or tinted paper does (common practice)."""
_SOLID = 10.0
_END = 0.005
"""Percent: exports round the ends to 0.001 or 99.999; matching tells amounts apart from twice that on."""
_AROUND = 0.5
"""How far from an end the largest value may lie for the scale to end there."""


@dataclass(frozen=True, slots=True, eq=False)
class Device:
    """`fields` are the columns of `inks`; `values` (patches, inks) from 0 to 100, RGB to 255; `scale` is that of the
    file in words; `unclear` is what stands in the way of telling patches apart, `puzzling` the columns that do."""

    inks: tuple[str, ...]
    fields: tuple[str, ...]
    values: FloatArray
    scale: str
    unclear: tuple[Unclear, ...]
    puzzling: frozenset[str] = frozenset()


def device_of(table: Table, colours: RoughColours, notes: Notes) -> Device:
    """The device values of a table; no inks where it has none."""
    columns = _ink_columns(table, notes)
    if not columns:
        return Device((), (), np.empty((table.rows, 0)), "", ())
    values = np.column_stack([table.number[field] for _, field in columns])
    channels, puzzling = _separating(table, values, colours, {name for name, _ in columns})
    if channels:
        columns = [*columns, *channels]
        values = np.column_stack([values, *(table.number[field] for _, field in channels)])
        message = f"{', '.join(field for _, field in channels)} told rows of equal device values apart: taken as inks"
        notes.add(Assumed.CHANNELS_FOUND, message, table.line)
    inks = tuple(name for name, _ in columns)
    refuse_outside(values, [field for _, field in columns], DEVICE, table)
    values, scale, doubt = _scaled(inks, values, table, colours, notes)
    unclear = tuple(filter(None, (*puzzling.values(), doubt)))
    return Device(inks, tuple(field for _, field in columns), values, scale, unclear, frozenset(puzzling))


def _ink_columns(table: Table, notes: Notes) -> list[tuple[str, str]]:
    """Ink and field of each device column; RGB beside real inks is a conversion, not what was printed."""
    found = [(name, field) for field in table.fields if (name := ink(field))]
    if not found:
        return _spelt_columns(table, notes)
    inks = [(name, field) for name, field in found if not field.startswith("RGB_")]
    if inks and len(inks) < len(found):
        message = "the table has RGB beside ink columns; the inks were taken as what was printed"
        notes.add(Assumed.DEVICE_RGB_IGNORED, message, table.line)
    return inks or found


def _spelt_columns(table: Table, notes: Notes) -> list[tuple[str, str]]:
    """Device columns such as `C M Y K`, `CYAN ...` or `PC_C ...`: at least cyan, magenta and yellow, written alike."""
    sets: dict[str, dict[str, str]] = {}
    for field in table.number:
        if match := _SPELT.fullmatch(field):
            name = match["ink"]
            manner = f"{match['before'] or ''}{'letters' if len(name) == 1 else 'words'}"
            sets.setdefault(manner, {})[_WORDS.get(name, name)] = field
    whole = next((found for found in sets.values() if {"C", "M", "Y"} <= found.keys()), {})
    if whole:
        notes.add(Assumed.CHANNELS_FOUND, f"{', '.join(whole.values())} were taken as device values", table.line)
    return list(whole.items())


def _separating(
    table: Table, device: FloatArray, colours: RoughColours, taken: set[str]
) -> tuple[list[tuple[str, str]], dict[str, Unclear]]:
    """The columns of unknown names that are inks, and one that parts rows as inks do but cannot be told."""
    unknown = [field for field in table.number if _is_unknown(field)]
    if not unknown:
        return [], {}
    groups = _Groups(device)
    separating = [field for field in unknown if groups.are_parted_by(table.number[field])]
    channels: list[tuple[str, str]] = []
    for field in separating:
        if _CHANNEL.fullmatch(field):
            name = _channel_name(field, taken)
            taken.add(name)
            channels.append((name, field))
    doubtful = [field for field in separating if not _CHANNEL.fullmatch(field) and not _counts(table.number[field])]
    if not doubtful:
        return channels, {}
    if channels:
        groups = _Groups(np.column_stack([device, *(table.number[field] for _, field in channels)]))
    found = colours()
    if found is None:
        return channels, {}
    firsts, others = groups.far_apart(found)
    for field in doubtful:
        values = np.nan_to_num(table.number[field])
        parted = np.flatnonzero(values[firsts] != values[others])
        if len(parted) and _INK_WORD.fullmatch(field) and (values == 0).any():
            channels.append((_channel_name(field, taken), field))
        elif len(parted):
            return channels, {field: _not_understood(table, field, int(firsts[parted[0]]), int(others[parted[0]]))}
    return channels, {}


def _is_unknown(field: str) -> bool:
    return not (is_value(field) or ink(field) or band(field) is not None or _MEASURED.fullmatch(field))


def _channel_name(field: str, taken: set[str]) -> str:
    """The ink's name: `LC` of CMYK_LC, else the whole field."""
    match = _CHANNEL.fullmatch(field)
    name = match["ink"] if match and match["cmyk"] else _WORDS.get(field, field)
    return field if name in taken else name


def _counts(values: FloatArray) -> bool:
    """Whether a column numbers the rows: whole numbers, each once, without a gap."""
    ordered = np.sort(values)
    return len(values) > 1 and bool((np.diff(ordered) == 1).all()) and float(ordered[0]) in (0.0, 1.0)


def _not_understood(table: Table, field: str, one: int, another: int) -> Unclear:
    (line, column), (other, _) = table.place(one, field), table.place(another, field)
    message = msg(
        "expected rows of equal device values to be one patch, but those in line {line} and line {other} differ widely "
        "in colour, and {field} (column {column}), which is not understood, tells them apart: export every ink under "
        "the name of its channel, or leave the column out",
        line=line,
        other=other,
        field=field,
        column=column,
    )
    return Unclear("patches", message)


class _Groups:
    """The rows of equal device values, those alone in theirs left out."""

    def __init__(self, device: FloatArray) -> None:
        known = np.where(np.isnan(device), -1.0, device)
        order = np.lexsort(known.T)
        ordered = known[order]
        new = np.concatenate([[True], (ordered[1:] != ordered[:-1]).any(axis=1)])
        starts = np.flatnonzero(new)
        sizes = np.diff(np.append(starts, len(order)))
        several = np.repeat(sizes > 1, sizes)
        self._rows: Rows = order[several]
        self._starts = np.cumsum(np.append(0, sizes[sizes > 1]))[:-1]

    def are_parted_by(self, values: FloatArray) -> bool:
        """Whether rows of one group have several values of a column; a missing one counts as 0."""
        if not len(self._starts):
            return False
        own = np.nan_to_num(values[self._rows])
        low, high = np.minimum.reduceat(own, self._starts), np.maximum.reduceat(own, self._starts)
        return bool((low != high).any())

    def far_apart(self, colours: FloatArray) -> tuple[Rows, Rows]:
        """Rows that are farther from the first of their group than replicates can be, and that first row of each."""
        firsts = np.repeat(self._rows[self._starts], np.diff(np.append(self._starts, len(self._rows))))
        away = np.linalg.norm(colours[self._rows] - colours[firsts], axis=1)
        far = np.flatnonzero(away > _FAR_APART)
        return firsts[far], self._rows[far]


def _scaled(
    inks: tuple[str, ...], values: FloatArray, table: Table, colours: RoughColours, notes: Notes
) -> tuple[FloatArray, str, Unclear | None]:
    """The values on the usual scale with their ends exact, the scale of the file in words, and a doubt about it."""
    full = 255.0 if set(inks) == {"R", "G", "B"} else 100.0
    top = float(np.fmax.reduce(values, axis=None)) if values.size else 0.0
    given = _full_scale(values, top, full, colours)
    if given is None:
        return values, "", Unclear("patches", _scale_message(table, top, full))
    scale = f"0 to {given:g}"
    if given != full:
        message = f"device values were taken to be given from {scale}, by their largest value of {top:g}"
        notes.add(Assumed.DEVICE_SCALE, message, table.line)
        values = values * full / given
    return _with_exact_ends(values, full), scale, None


def _with_exact_ends(values: FloatArray, full: float) -> FloatArray:
    end = _END * full / 100.0
    off = ((abs(values) <= end) & (values != 0)) | ((abs(values - full) <= end) & (values != full))
    if not off.any():
        return values
    return np.where(off, np.where(values > full / 2, full, 0.0), values)


def _full_scale(values: FloatArray, top: float, full: float, colours: RoughColours) -> float | None:
    """What the full amount is written as: 1, 100 or 255; None where that cannot be told."""
    if np.isnan(top) or top <= 0:
        return full
    if top > full + _AROUND:
        return 255.0 if full == 100.0 and abs(top - 255.0) <= _AROUND else None
    found = colours() if top <= 100.0 + _AROUND and (full == 255.0 or top <= 1.0 + _AROUND / 100) else None
    if found is None or np.isnan(found[:, 0]).all():
        return full
    return _of_light(top, found) if full == 255.0 else _of_ink(values, found)


def _of_light(top: float, colours: FloatArray) -> float | None:
    if float(np.nanmax(colours[:, 0])) < _BRIGHT:
        return 255.0
    if abs(top - 100.0) <= _AROUND:
        return 100.0
    return 1.0 if abs(top - 1.0) <= _AROUND / 100 else None


def _of_ink(values: FloatArray, colours: FloatArray) -> float | None:
    """Amounts up to 1: parts of the whole if they change the colour as solids do, percent if hardly at all."""
    total = np.where(np.isnan(colours).any(axis=1), np.nan, values.sum(axis=1))
    if np.isnan(total).all():
        return 100.0
    least, most = int(np.nanargmin(total)), int(np.nanargmax(total))
    away = float(np.linalg.norm(colours[most] - colours[least]))
    if away >= _SOLID:
        return 1.0
    return 100.0 if away <= _CLOSE else None


def _scale_message(table: Table, top: float, full: float) -> Message:
    return msg(
        "expected device values from 0 to {full:g}, or a scale of 0 to 1, 100 or 255 that their colours bear out, but "
        "the largest is {top:g} (rows from line {line}): export them from 0 to {full:g}",
        full=full,
        top=top,
        line=table.line,
    )
