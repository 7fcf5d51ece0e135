"""Documents made of arrays rather than of a file, and CGATS.17 text that reads back equal."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement.cgats.document import CgatsDocument, Statement, Table
from sentinel.core.measurement.cgats.fields import canonical, is_standard, is_text, is_value, unique, written
from sentinel.core.measurement.cgats.numbers import numeral
from sentinel.core.measurement.cgats.sections import COMMENT, DECLARATION

Column = Sequence[str] | Sequence[float] | npt.NDArray[np.float64]


def document_of(
    columns: Mapping[str, Column],
    keywords: Mapping[str, str] | None = None,
    *,
    identifier: str = "CGATS.17",
    comments: Sequence[str] = (),
) -> CgatsDocument:
    """A document of one table; `columns` as for `table_of`."""
    return document_of_tables([table_of(columns, keywords, comments=comments)], identifier=identifier)


def document_of_tables(tables: Sequence[Table], *, identifier: str = "CGATS.17") -> CgatsDocument:
    """A document of several tables, each with all of its keywords."""
    comments = tuple(s.value for table in tables for s in table.header if s.keyword == "#")
    return CgatsDocument(identifier, tuple(tables), comments, (), "utf-8")


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


_PLAIN = re.compile(r"[^\x00-\x20\s\"'#.$][^\x00-\x20\s\"'#]*")
_LINE_BREAK = re.compile(r"[\x00-\x08\n\x0b\r-\x1f]")
_IDENTIFIER = "CGATS.17"


def write(document: CgatsDocument) -> bytes:
    """UTF-8 text with line feeds, tabs between cells, and every private keyword declared.

    Reading it back gives equal ids, numbers, keywords and comments; numbers have a decimal point and missing ones
    are written as they were read, or `NA` for an empty cell. Raises ValueError for text with a line break in it.
    """
    lines = [document.identifier or _IDENTIFIER]
    declared: set[str] = set()
    above: Mapping[str, str] = {}
    for table in document.tables:
        if any(keyword not in table.keywords for keyword in above):
            lines.append(_IDENTIFIER)
            above = {}
        lines += _header(table, above, declared)
        lines += _format(table)
        lines += _data(table)
        above = table.keywords
    written_comments = sum(s.keyword == COMMENT for table in document.tables for s in table.header)
    lines += map(_comment, document.comments[written_comments:])
    return ("\n".join(lines) + "\n").encode()


def _header(table: Table, above: Mapping[str, str], declared: set[str]) -> Iterator[str]:
    own = [s for s in table.header if s.keyword != DECLARATION]
    stated = {s.keyword: s.value for s in own}
    own += [Statement(k, v) for k, v in table.keywords.items() if stated.get(k, above.get(k)) != v]
    for statement in own:
        if statement.keyword == COMMENT:
            yield _comment(statement.value)
            continue
        if not is_standard(statement.keyword) and statement.keyword not in declared:
            declared.add(statement.keyword)
            yield f'{DECLARATION} "{statement.keyword}"'
        yield f"{statement.keyword}\t{_quoted(statement.value)}"


def _format(table: Table) -> Iterator[str]:
    yield f"NUMBER_OF_FIELDS\t{len(table.fields)}"
    yield "BEGIN_DATA_FORMAT"
    yield "\t".join(_cell(written(field)) for field in table.fields)
    yield "END_DATA_FORMAT"


def _data(table: Table) -> Iterator[str]:
    yield f"NUMBER_OF_SETS\t{table.rows}"
    yield "BEGIN_DATA"
    columns = [_column(table, field) for field in table.fields]
    yield from map("\t".join, zip(*columns, strict=True))
    yield "END_DATA"


def _column(table: Table, field: str) -> list[str]:
    if field not in table.number:
        return [_cell(text) for text in table.text[field]]
    return [
        text if text and numeral(text) is not None else _number(value)
        for text, value in zip(table.text[field], table.number[field].tolist(), strict=True)
    ]


def _number(value: float) -> str:
    return "NA" if value != value else repr(value)  # noqa: PLR0124


def _comment(text: str) -> str:
    return "# " + _LINE_BREAK.sub(" ", text)


def _cell(text: str) -> str:
    return text if _PLAIN.fullmatch(text) and "_DATA" not in text.upper() else _quoted(text)


def _quoted(text: str) -> str:
    if _LINE_BREAK.search(text):
        raise ValueError(f"expected text without line breaks and control characters, got {text!r}")
    return '"' + text.replace('"', '""') + '"'
