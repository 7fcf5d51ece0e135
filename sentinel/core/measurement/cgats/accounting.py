"""Every column and header line of a table by what became of it: used, not understood, or not used."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import chain

from sentinel.core.measurement.cgats.device import Device
from sentinel.core.measurement.cgats.document import Statement, Table
from sentinel.core.measurement.cgats.fields import PAIRED, band, written
from sentinel.core.measurement.cgats.stated_condition import ReadUnder
from sentinel.core.measurement.interpretation import Account, Accounted, Interpretation

_NOT_ACCOUNTED = ("#", "KEYWORD")
"""Comments and declarations state nothing, unless a comment was taken for something."""


def accounted(
    table: Table, device: Device, under: ReadUnder, columns: Mapping[str, str], keywords: Mapping[str, str]
) -> Interpretation:
    """`columns` says what each column beside those of inks was used for, `keywords` what each header line beside those
    of the measurement condition was."""
    used = dict(columns) | {field: f"amount of {name}" for field, name in zip(device.fields, device.inks, strict=True)}
    fields, lines, puzzling = table.fields, (table.header, table.inherited), device.puzzling

    def parts() -> tuple[Accounted, ...]:
        return (*_columns(fields, used, puzzling), *_headers(chain(*lines), under, keywords))

    return Interpretation(parts, (*device.unclear, *under.unclear), device.scale)


def _columns(fields: tuple[str, ...], used: Mapping[str, str], puzzling: frozenset[str]) -> Iterator[Accounted]:
    for field in fields:
        if field in puzzling:
            yield Accounted("column", field, Account.NOT_UNDERSTOOD)
        elif field in used:
            yield Accounted("column", field, Account.USED, used[field])
        else:
            yield Accounted("column", field, Account.NOT_USED)


def _headers(lines: Iterable[Statement], under: ReadUnder, keywords: Mapping[str, str]) -> Iterator[Accounted]:
    for line in lines:
        meaning = ", ".join(filter(None, (under.meant.get(line), keywords.get(line.keyword))))
        if line in under.puzzling:
            account = Account.NOT_UNDERSTOOD
        elif meaning:
            account = Account.USED
        elif line.keyword in _NOT_ACCOUNTED:
            continue
        else:
            account = Account.NOT_USED
        yield Accounted("header", line.keyword, account, meaning, line.value, line.line)


def spectral_fields(table: Table) -> Iterator[str]:
    """The columns of wavelengths and reflectance."""
    return (field for field in table.fields if band(field) is not None or written(field) in PAIRED)
