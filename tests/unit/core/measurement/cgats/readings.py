"""Invented readings of charts, the many texts an instrument might export them as, and ways to damage such a text.

Nothing here comes from the reader: what it must make of a text is known from the reading the text was made of.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from decimal import Decimal

import numpy as np
import numpy.typing as npt
from hypothesis import strategies as st

Number = Decimal | None
Rows = list[list[Number]]
FloatArray = npt.NDArray[np.float64]

LAB, XYZ, CMYK = ("LAB_L", "LAB_A", "LAB_B"), ("XYZ_X", "XYZ_Y", "XYZ_Z"), ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K")
BAND_SPELLINGS: tuple[Callable[[int], str], ...] = (
    "SPECTRAL_NM{}".format,
    "SPECTRAL_NM_{}".format,
    "SPECTRAL_{}".format,
    "SPEC_{}".format,
    "nm{}".format,
    "{}nm".format,
    "{}_NM".format,
    "NM_{}".format,
    "R_{}".format,
)
CASES: tuple[Callable[[str], str], ...] = (str, str.lower, str.title)
MISSING_MARKS = ("NA", "nan", "---", "-", "inf")


@dataclass(frozen=True)
class Reading:
    """What was measured: one list of numbers a patch; None is a missing value, an empty list no such columns."""

    ids: list[str]
    names: list[str] | None
    device: Rows
    wavelengths: list[int]
    reflectance: Rows
    lab: Rows
    xyz: Rows
    keywords: dict[str, str]

    def array(self, rows: Rows) -> FloatArray | None:
        """The numbers as the measurement must hold them."""
        if not rows:
            return None
        return np.array([[np.nan if n is None else float(n) for n in row] for row in rows], np.float64)

    @property
    def gives_way(self) -> bool:
        """Whether Lab stands in for the spectra: no patch has a value at one end of their few bands."""
        ends = ([row[end] for row in self.reflectance] for end in (0, -1)) if self.reflectance else ()
        return bool(self.lab) and any(all(value is None for value in end) for end in ends)


@dataclass(frozen=True)
class Style:
    """One way to write a reading down; none of its fields changes what the text means."""

    separator: str = "\t"
    line_end: str = "\n"
    encoding: str = "utf-8"
    quote: str = "needed"
    case: Callable[[str], str] = str
    cells_a_line: int = 0
    order: tuple[int, ...] = ()
    comma: bool = False
    percent: bool = False
    xyz_fraction: bool = False
    spelling: int = 0
    pairs: str = ""
    numeral: str = "plain"
    state_fields: bool = True
    state_rows: bool = True
    wrap_format: bool = False
    trailing_tabs: int = 0
    header_tabs: int = 0
    blank_column: bool = False
    comments: bool = False
    blank_lines: bool = False
    identifier: str | None = "CGATS.17"
    missing: str = "NA"
    end_mark: bool = False


@dataclass
class Sheet:
    """A text still in its parts; `numeric` are the places of plain numbers among the cells."""

    header: list[str]
    counts: dict[str, int]
    fields: list[str]
    rows: list[list[str]]
    numeric: list[tuple[int, int]] = field(default_factory=list)
    bands: list[int] = field(default_factory=list)


def sheet(reading: Reading, style: Style) -> Sheet:
    """The parts of a text."""
    columns = _columns(reading, style)
    order = [index for index in style.order if index < len(columns)] or range(len(columns))
    columns = [columns[index] for index in order]
    names = [name for group in columns for name, _ in group]
    cells = [[cells[row] for group in columns for _, cells in group] for row in range(len(reading.ids))]
    if style.blank_column:
        names.insert(1, "")
        for row in cells:
            row.insert(1, "")
    numeric = [(r, c) for r, row in enumerate(cells) for c, cell in enumerate(row) if _is_number(names[c], cell)]
    header = [f'{style.case(key)}{style.separator[:1]}"{value}"' for key, value in reading.keywords.items()]
    counts = {}
    if style.state_fields:
        counts["NUMBER_OF_FIELDS"] = len(names)
    if style.state_rows:
        counts["NUMBER_OF_SETS"] = len(cells)
    bands = [c for c, name in enumerate(names) if re.fullmatch(r"(?i)[a-z_]*\d{3}[a-z_]*", name)]
    return Sheet(header, counts, [style.case(name) for name in names], cells, numeric, bands)


def text(parts: Sheet, style: Style) -> bytes:
    """The bytes of a file."""
    case, gap = style.case, style.separator
    count = {name: f"{case(name)}{gap[:1]}{number}" for name, number in parts.counts.items()}
    lines = [] if style.identifier is None else [style.identifier]
    lines += parts.header + [count[name] for name in count if name == "NUMBER_OF_FIELDS"]
    lines += [case("BEGIN_DATA_FORMAT"), *_format(parts, style), case("END_DATA_FORMAT")]
    lines += [count[name] for name in count if name == "NUMBER_OF_SETS"]
    lines += [case("BEGIN_DATA")]
    for number, row in enumerate(parts.rows):
        lines += _row(row, style)
        if style.comments and number % 2 == 0:
            lines.append("# a comment between rows")
        if style.blank_lines:
            lines.append("")
    lines += [case("END_DATA"), ""]
    whole = style.line_end.join(lines)
    return (whole + ("\x1a" if style.end_mark else "")).encode(style.encoding)


def render(reading: Reading, style: Style) -> bytes:
    """A reading written down in a style."""
    return text(sheet(reading, style), style)


def _format(parts: Sheet, style: Style) -> list[str]:
    names = [f'"{name}"' if style.quote == "all" and name else name for name in parts.fields]
    if not style.wrap_format:
        return [style.separator.join(names) + "\t" * style.header_tabs]
    middle = len(names) // 2
    return [style.separator.join(part) for part in (names[:middle], names[middle:]) if part]


def _row(row: list[str], style: Style) -> list[str]:
    step = style.cells_a_line or len(row) or 1
    lines = [style.separator.join(row[low : low + step]) for low in range(0, len(row), step)]
    if not style.cells_a_line:
        lines = [line + "\t" * style.trailing_tabs for line in lines]
    return lines


Column = tuple[str, list[str]]


def _columns(reading: Reading, style: Style) -> list[list[Column]]:
    """Groups of columns that must keep together: a wavelength and its value, all others alone."""
    groups: list[list[Column]] = [[("SAMPLE_ID", [_words(cell, style) for cell in reading.ids])]]
    if reading.names is not None:
        groups.append([("SAMPLE_NAME", [_words(cell, style) for cell in reading.names])])
    scale = {CMYK: 1, LAB: 1, XYZ: Decimal("0.01") if style.xyz_fraction else 1}
    for names, rows in ((CMYK, reading.device), (LAB, reading.lab), (XYZ, reading.xyz)):
        if rows:
            groups += [[(name, _numbers(rows, index, scale[names], style))] for index, name in enumerate(names)]
    if reading.reflectance:
        groups += _spectral(reading, style)
    return groups


def _spectral(reading: Reading, style: Style) -> list[list[Column]]:
    percent = style.pairs == "SPECTRAL_PCT" or (style.percent and not style.pairs)
    scale = 100 if percent else 1
    groups: list[list[Column]] = []
    for index, wavelength in enumerate(reading.wavelengths):
        values = _numbers(reading.reflectance, index, scale, style)
        if style.pairs:
            groups.append([("SPECTRAL_NM", [str(wavelength)] * len(reading.ids)), (style.pairs, values)])
        else:
            groups.append([(BAND_SPELLINGS[style.spelling](wavelength), values)])
    return groups


def _numbers(rows: Rows, column: int, scale: Decimal | int, style: Style) -> list[str]:
    return [_number(row[column], scale, style) for row in rows]


def _number(value: Number, scale: Decimal | int, style: Style) -> str:
    if value is None:
        return style.missing
    value = value * scale
    written = f"{value:E}" if style.numeral == "exponent" else f"{value:f}"
    if style.numeral == "sign" and value >= 0:
        written = f"+{written}"
    written = written.replace(".", ",") if style.comma else written
    return f'"{written}"' if style.quote == "all" else written


def _words(cell: str, style: Style) -> str:
    needs = (
        not cell
        or cell[0] in "\"'#.$"
        or cell != cell.strip()
        or re.search(r"\s#|\t", cell)
        or (re.search(r"\s", cell) and (style.separator != "\t" or style.cells_a_line == 1))
        or "_DATA" in cell.upper()
    )
    if needs or style.quote in ("all", "ids"):
        return '"' + cell.replace('"', '""') + '"'
    return cell


def _is_number(name: str, cell: str) -> bool:
    return name.upper() not in ("SAMPLE_ID", "SAMPLE_NAME", "") and re.search(r"\d", cell) is not None


# What Hypothesis draws from.

_LETTERS = st.sampled_from("ABCxyz0129éü-+_/'\"°")
IDS = st.one_of(
    st.integers(1, 2000).map(str),
    st.sampled_from(["001", "1A", "1e3", "0x10", "1.10", "A#1", "NA", "-", "nan", "#1", "END_DATA", "a b", "1,5"]),
    st.text(_LETTERS, min_size=1, max_size=6),
)
NAMES = st.one_of(IDS, st.sampled_from(["Paper white", "Step 12", "Patch #1", "", "a\tb", " edge ", "O'Neil", '5"']))


def _decimals(low: str, high: str, places: int) -> st.SearchStrategy[Decimal]:
    step = Decimal(1).scaleb(-places)
    return st.integers(int(Decimal(low) / step), int(Decimal(high) / step)).map(lambda n: (n * step).quantize(step))


@st.composite
def readings(draw: st.DrawFn, spectral: bool = False) -> Reading:
    """A chart of a few patches with one to three kinds of values, spectra among them if need be."""
    count = draw(st.integers(1, 6))

    def rows(width: int, numbers: st.SearchStrategy[Decimal], missing: bool) -> Rows:
        value: st.SearchStrategy[Number] = st.one_of(st.none(), numbers) if missing and draw(st.booleans()) else numbers
        return [[draw(value) for _ in range(width)] for _ in range(count)]

    kinds = draw(st.sets(st.sampled_from(["spectra", "lab", "xyz"]), min_size=1)) | ({"spectra"} if spectral else set())
    start, step, bands = (
        draw(st.sampled_from([380, 400, 360])),
        draw(st.sampled_from([5, 10, 20])),
        draw(st.integers(3, 6)),
    )
    reflectance = rows(bands, _decimals("0.0400", "1.1", draw(st.integers(4, 7))), True) if "spectra" in kinds else []
    xyz = rows(3, _decimals("5", "100", draw(st.integers(2, 5))), True) if "xyz" in kinds else []
    for some in (reflectance, xyz):
        if some:  # a chart has a light patch, from which its scale can be told
            some[0][0] = Decimal("0.8712") if some is reflectance else Decimal("84.48")
    lab = rows(3, _decimals("-80", "100", draw(st.integers(1, 6))), True) if "lab" in kinds else []
    for row in lab:  # nothing is darker than black
        row[0] = None if row[0] is None else abs(row[0])
    device = rows(4, _decimals("0", "100", draw(st.integers(0, 2))), False) if draw(st.booleans()) else []
    if device:  # and a solid, as for the scale of its inks
        device[0][0] = Decimal(100)
    return Reading(
        ids=[draw(IDS) for _ in range(count)],
        names=[draw(NAMES) for _ in range(count)] if draw(st.booleans()) else None,
        device=device,
        wavelengths=[start + step * band for band in range(bands)] if "spectra" in kinds else [],
        reflectance=reflectance,
        lab=lab,
        xyz=xyz,
        keywords={"ORIGINATOR": "tests", "MEASUREMENT_GEOMETRY": f"45/0, {draw(st.sampled_from(['M0', 'M1', 'M2']))}"},
    )


@st.composite
def styles(draw: st.DrawFn, reading: Reading) -> Style:
    """Any way of writing that leaves the meaning as it is."""
    tabs = draw(st.booleans())
    columns = 20 + 2 * len(reading.wavelengths)
    wrapped = draw(st.booleans()) and draw(st.booleans()) and "" not in (reading.names or ())
    plain_end = not wrapped and tabs
    style = Style(
        separator="\t" if tabs else draw(st.sampled_from([" ", "   ", "  "])),
        line_end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        encoding=draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])),
        quote=draw(st.sampled_from(["needed", "ids", "all"])),
        case=draw(st.sampled_from(CASES)),
        cells_a_line=draw(st.integers(1, 5)) if wrapped else 0,
        order=tuple(draw(st.permutations(range(columns)))) if draw(st.booleans()) else (),
        comma=draw(st.booleans()) and _commas_are_certain(reading),
        percent=draw(st.booleans()),
        xyz_fraction=draw(st.booleans()),
        spelling=draw(st.integers(0, len(BAND_SPELLINGS) - 1)),
        pairs=draw(st.sampled_from(["", "", "SPECTRAL_DEC", "SPECTRAL_PCT"])),
        numeral=draw(st.sampled_from(["plain", "plain", "sign", "exponent"])),
        state_fields=draw(st.booleans()),
        state_rows=draw(st.booleans()),
        wrap_format=draw(st.booleans()),
        trailing_tabs=draw(st.integers(0, 2)) if plain_end else 0,
        header_tabs=draw(st.integers(0, 1)) if plain_end else 0,
        comments=draw(st.booleans()),
        blank_lines=draw(st.booleans()),
        identifier=draw(st.sampled_from(["CGATS.17", "CGATS.5", "IT8.7/4", "ISO28178", "A chart of ours", None])),
        missing=draw(st.sampled_from(MISSING_MARKS)),
        end_mark=draw(st.booleans()),
    )
    if plain_end and not style.wrap_format:
        style = replace(style, blank_column=draw(st.booleans()))
        if len(reading.ids) > 1:
            style = replace(style, missing=draw(st.sampled_from(["", *MISSING_MARKS])))
    return style


def _commas_are_certain(reading: Reading) -> bool:
    """Whether some number cannot be taken for one with grouped thousands: all but three decimals."""
    numbers = [
        n for rows in (reading.lab, reading.xyz, reading.reflectance) for row in rows for n in row if n is not None
    ]
    return any(n.as_tuple().exponent != -3 for n in numbers)
