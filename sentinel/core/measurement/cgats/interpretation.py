"""A document's tables to measurements: which patches were read, how, when, and with which values."""

from __future__ import annotations

import re
import warnings
from datetime import datetime, timedelta, timezone

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement.cgats.accounting import accounted, spectral_fields
from sentinel.core.measurement.cgats.device import Device, device_of
from sentinel.core.measurement.cgats.document import CgatsDocument, Notes, Table
from sentinel.core.measurement.cgats.faults import Assumed, CgatsError, Refused
from sentinel.core.measurement.cgats.ranges import refuse_implausible
from sentinel.core.measurement.cgats.reflectance import XYZ, scaled, spectra
from sentinel.core.measurement.cgats.stated_condition import measurement_condition
from sentinel.core.measurement.cgats.tokens import shown
from sentinel.core.measurement.measurement import Chart, Created, Measurement
from sentinel.core.message import msg

_MONTHS = {
    name: number
    for number, name in enumerate("jan feb mar apr may jun jul aug sep oct nov dec".split(), start=1)  # noqa: SIM905
}
_CLOCK = re.compile(
    r"(?:T|\b)(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,]\d+)?)?\s*(?P<half>[ap]\.?m\.?)?"
    r"\s*(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2})?(?=$|[\s,)])",
    re.I,
)
_DATES = (
    re.compile(r"(?P<year>\d{4})(?P<mark>[-/.])(?P<month>\d{1,2})(?P=mark)(?P<day>\d{1,2})"),
    re.compile(r"(?P<day>\d{1,2})\.\s?(?P<month>\d{1,2})\.\s?(?P<year>\d{4})"),
    re.compile(r"(?P<one>\d{1,2})(?P<mark>[-/])(?P<two>\d{1,2})(?P=mark)(?P<year>\d{4})"),
    re.compile(r"(?P<day>\d{1,2})(?:st|nd|rd|th|\.)?[\s-]+(?P<name>[a-z]{3})[a-z]*\.?,?[\s-]+(?P<year>\d{4})", re.I),
    re.compile(r"(?P<name>[a-z]{3})[a-z]*\.?\s+(?P<day>\d{1,2})(?:st|nd|rd|th)?(?:,|\s).*?(?P<year>\d{4})", re.I),
)
_WEEKDAY = re.compile(r"(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?", re.I)


def created(text: str) -> Created:
    """`at` is None without a full date and time of day, where day and month can be swapped, or for an unknown zone."""
    if len(text) > 100:
        return Created(text, None)
    clock = _CLOCK.search(text)
    if clock is None:
        return Created(text, None)
    rest = _WEEKDAY.sub("", text[: clock.start()] + " " + text[clock.end() :]).strip(" ,")
    date = next((match for pattern in _DATES if (match := pattern.fullmatch(rest))), None)
    day = _date(date) if date else None
    if day is None:
        return Created(text, None)
    try:
        return Created(text, datetime(*day, *_time_of_day(clock), tzinfo=_zone(clock["zone"])))
    except ValueError:
        return Created(text, None)


def _date(match: re.Match[str]) -> tuple[int, int, int] | None:
    parts = match.groupdict()
    year = int(parts["year"])
    if "one" in parts:
        one, two = int(parts["one"]), int(parts["two"])
        if one <= 12 and two <= 12 and one != two:
            return None
        return (year, two, one) if one > 12 else (year, one, two)
    month = _MONTHS.get(parts["name"].lower()) if "name" in parts else int(parts["month"])
    return (year, month, int(parts["day"])) if month else None


def _time_of_day(match: re.Match[str]) -> tuple[int, int, int]:
    hour = int(match["hour"])
    half = (match["half"] or "")[:1].lower()
    if half:
        if not 1 <= hour <= 12:
            raise ValueError
        hour = hour % 12 + (12 if half == "p" else 0)
    return hour, int(match["minute"]), int(match["second"] or 0)


def _zone(text: str | None) -> timezone | None:
    if text is None:
        return None
    if text[0] not in "+-":
        return timezone.utc  # noqa: UP017
    minutes = int(text[1:3]) * 60 + int(text[-2:])
    return timezone(timedelta(minutes=minutes if text[0] == "+" else -minutes))


_LAB = ("LAB_L", "LAB_A", "LAB_B")
_XYZ = ("XYZ_X", "XYZ_Y", "XYZ_Z")
_POSITIONS = ("SAMPLE_LOC", "SAMPLE_LOCATION", "SAMPLE_POSITION", "PATCH_LOC", "LOCATION", "POSITION")
_SERIALS = re.compile(r"(?>.*?(?:INSTR|DEVICE|METER|MEAS)).*(?:SERIAL|_SN).*|SERIAL_(?:NUMBER|NO)")
_TARGET_SERIAL = "SERIAL"
_LONGEST_SERIAL = 200
_SERIAL_IN_TEXT = re.compile(r"\b(?:serial(?:\s+(?:number|no))?|s/n|sn)\b[\s.:#=]*([A-Z0-9][\w-]*\d[\w-]*)", re.I)
_INSTRUMENTS = ("INSTRUMENTATION", "INSTRUMENT")
_CREATED = ("CREATED", "CREATION_DATE", "MEASUREMENT_DATE", "MEASURED", "DATE")


def measurements(document: CgatsDocument) -> tuple[Measurement, ...]:
    """One measurement a table, in file order.

    A table without a reading (a chart's definition) gives one whose values are all None. Raises `CgatsError` where
    the cells were read but mean nothing: irregular wavelengths, a scale that fits neither way, impossible values.
    """
    return tuple(_measurement(table, turn) for turn, table in enumerate(document.tables, start=1))


def _measurement(table: Table, turn: int) -> Measurement:
    refuse_implausible(table)
    notes, of_spectra, of_lab, of_xyz = Notes(), Notes(), Notes(), Notes()
    lab = _three(table, _LAB, of_lab)
    wavelengths, reflectance = spectra(table, of_spectra, lab is not None) or (None, None)
    xyz = _three(table, _XYZ, of_spectra)
    if xyz is not None:
        xyz = scaled(xyz, _XYZ, table, XYZ, None, of_xyz)
    device = device_of(table, lambda: _rough(lab, xyz, reflectance), notes)
    chart = _chart(table, device, notes)
    notes.add_all(of_spectra)
    under = measurement_condition(table, notes)
    for others in (of_lab, of_xyz):
        notes.add_all(others)
    serial, made = _serial(table, notes), _created(table, notes)
    columns = _used_columns(table, reflectance is not None, lab is not None, xyz is not None)
    return Measurement(
        table=turn,
        chart=chart,
        condition=under.condition,
        wavelengths=wavelengths,
        reflectance=reflectance,
        lab=lab,
        xyz=xyz,
        instrument=_first(table, _INSTRUMENTS),
        serial=serial,
        created=made,
        keywords=table.keywords,
        assumptions=notes.assumptions(),
        interpretation=accounted(table, device, under, columns, _used_keywords(table, serial, made)),
    )


def _used_columns(table: Table, has_spectra: bool, has_lab: bool, has_xyz: bool) -> dict[str, str]:
    """What figures rest on: spectra, else Lab, else XYZ; Lab beside spectra is held against them."""
    used = {"SAMPLE_ID": "id", "SAMPLE_NAME": "name"}
    if position := _position(table):
        used[position] = "place on the sheet"
    if has_spectra:
        used |= dict.fromkeys(spectral_fields(table), "reflectance")
    if has_lab:
        used |= dict.fromkeys(_LAB, "Lab, held against the reflectance" if has_spectra else "Lab")
    elif has_xyz and not has_spectra:
        used |= dict.fromkeys(_XYZ, "XYZ")
    return used


def _used_keywords(table: Table, serial: str | None, made: Created | None) -> dict[str, str]:
    """The keywords that tell the instrument, its serial number and the time."""
    used: dict[str, str] = {}
    times = _CREATED if made and made.at else ()
    for keywords, meaning in ((_INSTRUMENTS, "instrument"), (times, "time of measurement")):
        first = next((keyword for keyword in keywords if table.keywords.get(keyword)), None)
        if first:
            used[first] = meaning
    for keyword, value in table.keywords.items():
        if value and value == serial and (_SERIALS.fullmatch(keyword) or keyword == _TARGET_SERIAL):
            used[keyword] = "serial number of the instrument"
    return used


def _rough(lab: FloatArray | None, xyz: FloatArray | None, reflectance: FloatArray | None) -> FloatArray | None:
    """Colours as far apart as people see them, roughly: those of a third of the bands each stand for X, Y and Z."""
    if lab is not None:
        return lab
    if xyz is None and reflectance is not None:
        blue, green, red = np.array_split(reflectance, 3, axis=1)
        with np.errstate(invalid="ignore"), warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # a third without a value stays missing
            xyz = np.column_stack([np.nanmean(part, axis=1) for part in (red, green, blue)]) * 100.0
    if xyz is None:
        return None
    x, y, z = np.cbrt(xyz / 100.0).T
    return np.column_stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)])


LONGEST_NAME = 1000
"""Letters of an id, a name or a place on the sheet; people are told of patches by them."""


def _refuse_long_names(table: Table, *fields: str | None) -> None:
    for field in filter(None, fields):
        for row, name in enumerate(table.text[field] if field in table.fields else ()):
            if len(name) > LONGEST_NAME:
                message = msg(
                    "expected at most {most} letters for {field}, but {found} came",
                    most=LONGEST_NAME,
                    field=field,
                    found=len(name),
                )
                raise CgatsError(Refused.TOKEN_TOO_LONG, message, *table.place(row, field))


def _chart(table: Table, device: Device, notes: Notes) -> Chart:
    position = _position(table)
    _refuse_long_names(table, "SAMPLE_ID", "SAMPLE_NAME", position)
    return Chart(
        ids=_ids(table, notes),
        names=table.text["SAMPLE_NAME"] if "SAMPLE_NAME" in table.fields else None,
        inks=device.inks,
        device=device.values,
        positions=table.text[position] if position else None,
    )


def _position(table: Table) -> str | None:
    return next((field for field in _POSITIONS if field in table.fields), None)


def _ids(table: Table, notes: Notes) -> tuple[str, ...]:
    if "SAMPLE_ID" not in table.fields:
        message = "there is no SAMPLE_ID; the rows were counted from 1"
        notes.add(Assumed.IDS_MISSING, message, table.line)
        return tuple(str(row) for row in range(1, table.rows + 1))
    ids = table.text["SAMPLE_ID"]
    if len(set(ids)) < len(ids):
        message = f"{len(ids) - len(set(ids))} values of SAMPLE_ID came before; all rows were kept"
        notes.add(Assumed.IDS_REPEATED, message, table.line)
    return ids


def _three(table: Table, fields: tuple[str, ...], notes: Notes) -> FloatArray | None:
    present = [field for field in fields if field in table.fields]
    if len(present) == len(fields):
        return np.column_stack([table.number[field] for field in fields])
    if present:
        message = f"of {', '.join(fields)} only {', '.join(present)} are there; they were left out"
        notes.add(Assumed.COLUMNS_INCOMPLETE, message, table.line)
    return None


def _first(table: Table, keywords: tuple[str, ...]) -> str | None:
    return next((table.keywords[keyword] for keyword in keywords if table.keywords.get(keyword)), None)


def _serial(table: Table, notes: Notes) -> str | None:
    """The instrument's serial number; SERIAL, by the standard the physical chart's, is often used for it."""
    stated = next(
        (v for keyword, v in table.keywords.items() if 0 < len(v) <= _LONGEST_SERIAL and _SERIALS.fullmatch(keyword)),
        None,
    )
    found = _SERIAL_IN_TEXT.search(table.keywords.get("INSTRUMENTATION", ""))
    serial = stated or (found[1] if found and len(found[1]) <= _LONGEST_SERIAL else None)
    if serial is None and 0 < len(table.keywords.get(_TARGET_SERIAL, "")) <= _LONGEST_SERIAL:
        serial = table.keywords[_TARGET_SERIAL]
        notes.add(Assumed.SERIAL_OF_INSTRUMENT, "SERIAL was taken for the instrument's serial number", table.line)
    return serial


def _created(table: Table, notes: Notes) -> Created | None:
    text = _first(table, _CREATED)
    if text is None:
        return None
    made = created(text)
    if made.at is None:
        message = f"the time {shown(text)} has no full date and time of day, or can be read in two ways"
        notes.add(Assumed.CREATED_NOT_UNDERSTOOD, message, table.line)
    return made
