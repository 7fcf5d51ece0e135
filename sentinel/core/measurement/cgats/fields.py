"""The words of the standard: keywords, identifier lines, and the list of fields with the kind of value each holds."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from sentinel.core.measurement.cgats import tokens
from sentinel.core.measurement.cgats.document import Notes
from sentinel.core.measurement.cgats.faults import CgatsError, Refused
from sentinel.core.measurement.cgats.tokens import TextLine
from sentinel.core.measurement.reading import ReaderBounds
from sentinel.core.message import msg

STANDARD = frozenset(
    [
        "ORIGINATOR",
        "DESCRIPTOR",
        "FILE_DESCRIPTOR",
        "CREATED",
        "MANUFACTURER",
        "MANUFACTURE",
        "PROD_DATE",
        "SERIAL",
        "MATERIAL",
        "INSTRUMENTATION",
        "MEASUREMENT_SOURCE",
        "MEASUREMENT_GEOMETRY",
        "FILTER",
        "PRINT_CONDITIONS",
        "PRINTING_CONDITIONS",
        "SAMPLE_BACKING",
        "ILLUMINANT",
        "OBSERVER",
        "POLARIZATION",
        "WEIGHTING_FUNCTION",
        "COMPUTATIONAL_PARAMETER",
        "TARGET_TYPE",
        "COLORANT",
        "TABLE_DESCRIPTOR",
        "TABLE_NAME",
        "STATUS",
        "KEYWORD",
        "COPYRIGHT",
        "DATA_SOURCE",
        "CHISQ_DOF",
        "PROCESSCOLOR_ID",
        "DEVICE_CLASS",
        "DIFFUSE_GEOMETRY",
        "COLOR_REP",
        "PRINTER",
        "INSTRUMENT",
        "SPOT_ID",
        "NUMBER_OF_FIELDS",
        "NUMBER_OF_SETS",
        "BEGIN_DATA_FORMAT",
        "END_DATA_FORMAT",
        "BEGIN_DATA",
        "END_DATA",
    ]
)
_IDENTIFIER = re.compile(r"(?:CGATS|IT8|ISO ?28178)[./\d\w-]*", re.I)


def is_standard(word: str) -> bool:
    """Whether the word is a keyword that needs no declaration."""
    return word.upper() in STANDARD


def is_identifier(line: str) -> bool:
    """Whether the line names a standard this kind of file is written to, such as `CGATS.17` or `IT8.7/2`."""
    return _IDENTIFIER.fullmatch(line) is not None


_NOT_A_NAME = re.compile(r"[\s\u00a0_-]+")
_ALIASES = {
    "SAMPLEID": "SAMPLE_ID",
    "SAMPLENAME": "SAMPLE_NAME",
    "SAMPLELOC": "SAMPLE_LOC",
    "SPECTRALNM": "SPECTRAL_NM",
    "SPECTRALDEC": "SPECTRAL_DEC",
    "SPECTRALPCT": "SPECTRAL_PCT",
}
_BAND = re.compile(
    r"(?:SPECTRALNM|SPECTRAL|SPEC)(?P<named>\d{3,4})(?:NM)?|(?:NM|R)(?P<short>[3-8]\d\d)"
    r"|(?P<bare>[3-8]\d\d)NM"
)
_TEXT = re.compile(r"STRING|D_MAJOR_FILTER|(?:.*_)?(?:ID|NAME|LOC|LOCATION|POSITION|LABEL|TYPE|COMMENT|NOTE)\d*")
_INK = re.compile(r"CMYK_([CMYK])|CMY_([CMY])|RGB_([RGB])|CMYK[A-Z]+_([A-Z])|([0-9]{1,2}CLR_[0-9]{1,2})")
_VALUE = re.compile(
    r"XYZ_[XYZ]|XYY_(?:X|Y|CAPY)|LAB_(?:[LABCH]|DE\w*)|D_(?:RED|GREEN|BLUE|VIS)"
    r"|SPECTRAL_NM[0-9]+|SPECTRAL_(?:NM|DEC|PCT)(?: \d+)?|STDEV_\w+|MEAN_DE|CHI_SQD_PAR"
)
_BAND_FIELD = re.compile(r"SPECTRAL_NM([0-9]{1,4})")
_GARBLED_BAND = re.compile(r"(?:SPEC|NM|R_)(?>[^\W\d]*)\d\w*|\d\w*NM")
PAIRED = ("SPECTRAL_NM", "SPECTRAL_DEC", "SPECTRAL_PCT")


def canonical(name: str) -> str:
    """The one spelling of a field name: upper case, `_` for spaces, ids and bands as the standard has them.

    Every spelling of the band at 380 nm (`SPECTRAL_380`, `nm380`, `380_NM`, `R_380` ...) becomes `SPECTRAL_NM380`.
    """
    joined = _NOT_A_NAME.sub("_", name.strip()).upper()
    compact = joined.replace("_", "")
    match = _BAND.fullmatch(compact)
    if match:
        return f"SPECTRAL_NM{int(match[match.lastgroup or 0])}"
    return _ALIASES.get(compact, joined)


def unique(names: list[str]) -> list[str]:
    """Canonical names with the turn of a wavelength or its value written behind it: `SPECTRAL_DEC 2`."""
    turns = dict.fromkeys(PAIRED, 0)
    for index, name in enumerate(names):
        if name in turns:
            turns[name] += 1
            if turns[name] > 1:
                names[index] = f"{name} {turns[name]}"
    return names


def written(field: str) -> str:
    """The name of a field as it is written into a file."""
    return field.partition(" ")[0]


def is_text(field: str) -> bool:
    """Whether the field's cells are text whatever they look like."""
    return _TEXT.fullmatch(field) is not None


def is_value(field: str) -> bool:
    """Whether the field's cells must be numbers."""
    return _VALUE.fullmatch(field) is not None or ink(field) is not None


def ink(field: str) -> str | None:
    """The ink of a device column: `C` of CMYK_C, `O` of CMYKOG_O, an n-colour one by its whole name; else None."""
    match = _INK.fullmatch(field)
    return match[match.lastindex or 0] if match else None


def is_garbled_band(field: str) -> bool:
    """Whether the field looks like a spectral column whose wavelength cannot be read."""
    return band(field) is None and _GARBLED_BAND.fullmatch(field) is not None


def band(field: str) -> int | None:
    """The wavelength in nm of a spectral column, or None."""
    match = _BAND_FIELD.fullmatch(field)
    return int(match[1]) if match else None


STRUCTURE = ("BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA")
_END = "END_DATA_FORMAT"
LONGEST_FIELD = 1000
"""Letters; the longest names of the standard have some twenty."""


@dataclass(frozen=True, slots=True)
class FieldList:
    """The names of fields as written, cut at tabs (blank names kept) and at white space; alike without tabs."""

    tabbed: tuple[str, ...]
    spaced: tuple[str, ...]
    line: int


@dataclass(slots=True)
class _Names:
    """The names read so far."""

    tabbed: list[str] = field(default_factory=list)
    spaced: list[str] = field(default_factory=list)
    has_tabs: bool = False


def read_format(
    begin: TextLine, rest: str, source: Iterator[TextLine], bounds: ReaderBounds, notes: Notes
) -> FieldList:
    """The list that begins with `rest`, what follows BEGIN_DATA_FORMAT on its line, and goes on over `source`."""
    names = _Names()
    closed = bool(rest.strip(tokens.WHITE)) and _take(begin, rest, names, bounds, notes)
    while not closed:
        line = next(source, None)
        if line is None:
            message = msg("expected END_DATA_FORMAT after the list of fields, but the file ends")
            raise CgatsError(Refused.FORMAT_NOT_CLOSED, message, begin.number)
        closed = _take(line, line.text, names, bounds, notes)
    return FieldList(tuple(names.tabbed if names.has_tabs else names.spaced), tuple(names.spaced), begin.number)


def _take(line: TextLine, text: str, names: _Names, bounds: ReaderBounds, notes: Notes) -> bool:
    """Add a line's names in both readings; True where END_DATA_FORMAT closes the list."""
    text = text[: tokens.comment_start(text)].rstrip(tokens.WHITE)
    if any(tokens.are_more_than(bounds.columns + 1, text, tabbed) for tabbed in (False, True)):
        raise _too_many(line, bounds)
    spaced = tokens.split(text, tabbed=False, line=line.number, notes=notes)
    closed = bool(spaced) and spaced[-1].upper() == _END
    if closed:
        spaced.pop()
        text = text[: -len(_END)].rstrip(tokens.WHITE)
    if any(name.upper() in STRUCTURE for name in spaced):
        message = msg("expected END_DATA_FORMAT after the list of fields")
        raise CgatsError(Refused.FORMAT_NOT_CLOSED, message, line.number)
    tabbed = (_cut_at_tabs(line, text, notes) or spaced) if text else []
    for name in (*spaced, *tabbed):
        if len(name) > LONGEST_FIELD:
            raise _too_long(line, name)
    names.spaced += spaced
    names.has_tabs |= "\t" in text
    names.tabbed += tabbed
    if max(len(names.spaced), len(names.tabbed)) > bounds.columns:
        raise _too_many(line, bounds)
    return closed


def _cut_at_tabs(line: TextLine, text: str, notes: Notes) -> list[str] | None:
    """The line cut at tabs, or None where quotes rule that out."""
    try:
        return tokens.split(text, tabbed=True, line=line.number, notes=notes)
    except CgatsError:
        return None


def _too_long(line: TextLine, name: str) -> CgatsError:
    message = msg(
        "expected names of fields of at most {most} letters, but {name} has {found}",
        most=LONGEST_FIELD,
        name=tokens.shown(name),
        found=len(name),
    )
    return CgatsError(Refused.TOKEN_TOO_LONG, message, line.number, max(0, line.text.find(name)) + 1)


def _too_many(line: TextLine, bounds: ReaderBounds) -> CgatsError:
    message = msg("expected at most {count} column", "expected at most {count} columns", count=bounds.columns)
    return CgatsError(Refused.TOO_MANY_COLUMNS, message, line.number)
