"""Documents made of arrays rather than of a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from sentinel.core.cgats.document import Document, FloatArray, Statement, Table
from sentinel.core.cgats.fields import canonical, is_text, is_value, unique
from sentinel.core.cgats.values import numeral

Column = Sequence[str] | Sequence[float] | npt.NDArray[np.float64]


def document_of(
    columns: Mapping[str, Column],
    keywords: Mapping[str, str] | None = None,
    *,
    identifier: str = "CGATS.17",
    comments: Sequence[str] = (),
) -> Document:
    """A document of one table; `columns` as for `table_of`."""
    return document_of_tables([table_of(columns, keywords, comments=comments)], identifier=identifier)


def document_of_tables(tables: Sequence[Table], *, identifier: str = "CGATS.17") -> Document:
    """A document of several tables, each with all of its keywords."""
    comments = tuple(s.value for table in tables for s in table.header if s.keyword == "#")
    return Document(identifier, tuple(tables), comments, (), "utf-8")


def table_of(
    columns: Mapping[str, Column],
    keywords: Mapping[str, str] | None = None,
    *,
    comments: Sequence[str] = (),
) -> Table:
    """A table of columns in order: field name to one cell a row, as text or as numbers (NaN is a missing value).

    Raises ValueError for no rows, for columns of unequal length, for a field named twice, and for a field of numbers
    given text that is none.
    """
    fields = unique([canonical(name) for name in columns])
    text = {field: tuple(map(_text, column)) for field, column in zip(fields, columns.values(), strict=True)}
    lengths = {len(column) for column in text.values()}
    if len(text) != len(columns) or len(lengths) != 1 or 0 in lengths:
        raise ValueError(f"expected each field once, all of one length, got {fields} of {sorted(lengths)} rows")
    header = tuple(Statement("#", comment) for comment in comments)
    upper = {keyword.upper(): value for keyword, value in (keywords or {}).items()}
    header += tuple(Statement(keyword, value) for keyword, value in upper.items())
    return Table(
        fields=tuple(fields),
        rows=lengths.pop(),
        text=text,
        number=_numbers(text),
        keywords=upper,
        line=0,
        header=header,
    )


def spectral_columns(wavelengths: Sequence[float] | FloatArray, reflectance: FloatArray) -> dict[str, FloatArray]:
    """The columns of a reflectance array (patches, bands) at wavelengths in nm."""
    return {f"SPECTRAL_NM{int(nm)}": reflectance[:, band] for band, nm in enumerate(wavelengths)}


def _text(value: object) -> str:
    if isinstance(value, str):
        return value
    number = float(value)  # type: ignore[arg-type]
    if number != number:  # noqa: PLR0124
        return "NA"
    return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)


def _numbers(text: Mapping[str, tuple[str, ...]]) -> dict[str, FloatArray]:
    numbers: dict[str, FloatArray] = {}
    for field, cells in text.items():
        values = [] if is_text(field) else [numeral(cell) for cell in cells]
        if values and None not in values:
            numbers[field] = np.array(values, np.float64)
        elif is_value(field):
            raise ValueError(f"expected numbers for {field}, got {cells[:3]} ...")
    return numbers
