"""Readings of published colours in the many ways in which programs export them: a corpus that must stay scored.

The ways are those that files met in practice have; what each file holds is known from the numbers it was made of, not
from a reader. A chart of inks is FOGRA39L's; one of spectra are the 24 patches after Ohta 1997.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import colour
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

DATASETS = Path(__file__).parents[1] / "data" / "datasets"
PACKAGED = Path(colour.__file__).parent / "io" / "tests" / "resources"
"""CGATS texts that come with colour-science."""
CMYK, XYZ, LAB = (
    tuple(f"{kind}_{part}" for part in parts) for kind, parts in (("CMYK", "CMYK"), ("XYZ", "XYZ"), ("LAB", "LAB"))
)
BANDS = np.arange(380, 731, 10)

Columns = dict[str, list[str]]


@dataclass(frozen=True)
class Export:
    """A way to write a chart down; `values` changes the columns, all else the text around them."""

    values: Callable[[Columns], Columns] = dict
    header: tuple[str, ...] = ('INSTRUMENTATION "D50, 2 degree, geometry 45/0"',)
    separator: str = "\t"
    line_end: str = "\n"
    encoding: str = "utf-8"
    identifier: str | None = "CGATS.17"
    counts: bool = True
    change: Callable[[str], str] = str


def written(columns: Columns, export: Export) -> bytes:
    """The bytes of the file."""
    columns = export.values(dict(columns))
    gap = export.separator
    rows = list(zip(*columns.values(), strict=True))
    lines = [] if export.identifier is None else [export.identifier]
    lines += list(export.header)
    lines += [f"NUMBER_OF_FIELDS{gap}{len(columns)}"] if export.counts else []
    lines += ["BEGIN_DATA_FORMAT", gap.join(columns), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS{gap}{len(rows)}"] if export.counts else []
    lines += ["BEGIN_DATA", *(gap.join(row) for row in rows), "END_DATA", ""]
    return export.change("\n".join(lines)).replace("\n", export.line_end).encode(export.encoding)


def inks() -> Columns:
    """FOGRA39L as its file writes it."""
    lines = (DATASETS / "FOGRA39L.txt").read_text(encoding="ascii").splitlines()
    rows = [line.split() for line in lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")]]
    return dict(zip(("SAMPLE_ID", *CMYK, *XYZ, *LAB), map(list, zip(*rows, strict=True)), strict=True))


def reflectance() -> FloatArray:
    """(24, 36), 380 to 730 nm, a little darker than published, with five decimals."""
    published = np.array([sd.values[:71:2] for sd in colour.SDS_COLOURCHECKERS["cc_ohta"].values()])
    return np.round(0.005 + 0.96 * published, 5)


def spectra(values: FloatArray, name: str = "SPECTRAL_NM{}", decimals: int = 5) -> Columns:
    """The columns of a spectral file without device values."""
    columns = {
        name.format(nm): [f"{value:.{decimals}f}" for value in band] for nm, band in zip(BANDS, values.T, strict=True)
    }
    return {"SAMPLE_ID": [str(number) for number in range(1, len(values) + 1)], **columns}


def only(*prefixes: str) -> Callable[[Columns], Columns]:
    return lambda columns: {name: cells for name, cells in columns.items() if name.startswith(("SAMPLE", *prefixes))}


def renamed(names: dict[str, str]) -> Callable[[Columns], Columns]:
    return lambda columns: {names.get(name, name): cells for name, cells in columns.items()}


def rounded(decimals: int, *names: str, scale: float = 1.0) -> Callable[[Columns], Columns]:
    def round_(columns: Columns) -> Columns:
        return columns | {name: [f"{float(cell) * scale:.{decimals}f}" for cell in columns[name]] for name in names}

    return round_


def beside(name: str, cell: Callable[[int], str]) -> Callable[[Columns], Columns]:
    """A further column behind the others."""
    return lambda columns: columns | {name: [cell(row) for row in range(len(columns["SAMPLE_ID"]))]}


def quoted(columns: Columns) -> Columns:
    return columns | {"SAMPLE_ID": [f'"{cell}"' for cell in columns["SAMPLE_ID"]]}


def shuffled(columns: Columns) -> Columns:
    order = np.random.default_rng(13).permutation(len(columns["SAMPLE_ID"]))
    return {name: [cells[row] for row in order] for name, cells in columns.items()}


def random_order(columns: Columns) -> Columns:
    names = list(columns)
    return {name: columns[name] for name in (*names[4:], *names[:4])}


TEXTS: dict[str, Export] = {
    "plain": Export(),
    "spaces": Export(separator=" "),
    "wide spaces": Export(separator="   "),
    "CR LF": Export(line_end="\r\n"),
    "CR": Export(line_end="\r"),
    "byte-order mark": Export(encoding="utf-8-sig"),
    "UTF-16": Export(encoding="utf-16"),
    "Latin-1": Export(encoding="latin-1", header=('ORIGINATOR "Prüfraum"',)),
    "no identifier": Export(identifier=None),
    "identifier of several words": Export(identifier="ISO 28178 measurement"),
    "IT8": Export(identifier="IT8.7/4"),
    "ECI2002": Export(identifier="ECI2002"),
    "counts missing": Export(counts=False),
    "quoted ids": Export(values=quoted),
    "quoted fields": Export(change=lambda text: text.replace("CMYK_C\t", '"CMYK_C"\t')),
    "lower case": Export(values=lambda columns: {name.lower(): cells for name, cells in columns.items()}),
    "SampleID": Export(values=renamed({"SAMPLE_ID": "SampleID"})),
    "decimal comma": Export(change=lambda text: text.replace(".", ",").replace("CGATS,17", "CGATS.17")),
    "trailing tabs": Export(change=lambda text: text.replace("\n", "\t\n").replace("BEGIN_DATA\t", "BEGIN_DATA")),
    "blank lines": Export(change=lambda text: text.replace("\nBEGIN", "\n\nBEGIN").replace("\nEND", "\n\nEND")),
    "comments": Export(change=lambda text: text.replace("BEGIN_DATA\n", "BEGIN_DATA\n# first row\n")),
    "end-of-file mark": Export(change=lambda text: text + "\x1a"),
    "columns in another order": Export(values=random_order),
    "rows in another order": Export(values=shuffled),
    "ids of letters": Export(
        values=lambda columns: columns | {"SAMPLE_ID": [f"A{cell}" for cell in columns["SAMPLE_ID"]]}
    ),
    "a second table of the same": Export(change=lambda text: text + text),
}

HEADERS: dict[str, tuple[str, ...]] = {
    "silent": (),
    "ILLUMINATION_NAME": ('ILLUMINATION_NAME "D50"', 'OBSERVER_ANGLE "2"'),
    "OBSERVER 2°": ('ILLUMINANT "D50"', 'OBSERVER "2 degree"'),
    "WEIGHTING_FUNCTION": ('WEIGHTING_FUNCTION "ILLUMINANT, D50"', 'WEIGHTING_FUNCTION "OBSERVER, 2 degree"'),
    "WEIGHTING_FUNCTION without comma": ('WEIGHTING_FUNCTION "D50 2 degree"',),
    "COMPUTATIONAL_PARAMETER": ('COMPUTATIONAL_PARAMETER "D50, 2 degree observer"',),
    "pairs": ('MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2 WhiteBase=Abs Filter=No"',),
    "M1 by geometry": ('MEASUREMENT_GEOMETRY "45/0, M1"',),
    "M1 by keyword": ('MEASUREMENT_CONDITION "M1"',),
    "M1 in a private keyword": ('PRIVATE_INFO "Measurement Condition=M1 Filter=No"',),
    "M0 by filter": ('FILTER "None"',),
    "M2 by filter": ('FILTER "UVcut"',),
    "not polarised": ('POLARIZATION "no"',),
    "white base": ('WHITE_BASE "absolute"',),
    "black backing": ('SAMPLE_BACKING "black"',),
    "white backing": ('SAMPLE_BACKING "white"',),
    "lamp": ('MEASUREMENT_SOURCE "LED"', 'LIGHT_SOURCE "A"'),
    "viewing": ('VIEWING_ILLUMINANT "D65"',),
    "date": ('CREATED "2024-03-05T14:22:00Z"',),
    "serial": ('SERIAL "12345"', 'INSTRUMENTATION "spectrophotometer, s/n 12345"'),
    "density words": ('DENSITY_STATUS "T"', 'DENSITY_WHITE_BASE "paper"'),
    "repeated keyword": ('DESCRIPTOR "one"', 'DESCRIPTOR "two"'),
    "unquoted": ("DESCRIPTOR Chart of the week",),
    "declared private": ('KEYWORD "ROOM"', 'ROOM "21 degrees, 50 percent"'),
    "observer named": ('PRIVATE "Observer: night shift"',),
    "printed at": ('PRINT_CONDITIONS "sheetfed, process standard"', 'MATERIAL "115 g/m2 gloss"'),
}

VALUES: dict[str, Callable[[Columns], Columns]] = {
    "Lab alone": only("CMYK", "LAB"),
    "XYZ alone": only("CMYK", "XYZ"),
    "XYZ from 0 to 1": rounded(4, *XYZ, scale=0.01),
    "XYZ of one decimal": rounded(1, *XYZ),
    "XYZ of whole numbers": rounded(0, *XYZ),
    "Lab of one decimal": rounded(1, *LAB),
    "Lab of whole numbers": rounded(0, *LAB),
    "LAB_A as lower case": renamed({name: name.lower() for name in LAB}),
    "amounts of three decimals": rounded(3, *CMYK),
    "RGB beside the inks": beside("RGB_R", lambda row: str(row % 256)),
    "names": beside("SAMPLE_NAME", lambda row: f"P{row + 1}"),
    "places": beside("SAMPLE_LOC", lambda row: f"{chr(65 + row % 26)}{row // 26 + 1}"),
    "row numbers": beside("INDEX", lambda row: str(row + 1)),
    "standard deviations": beside("STDEV_DE", lambda row: f"{0.1 + row % 7 / 100:.2f}"),
    "densities": beside("D_VIS", lambda row: f"{row % 170 / 100:.2f}"),
    "difference": beside("MEAN_DE", lambda row: f"{row % 9 / 10:.1f}"),
    "text": beside("COMMENT", lambda row: "ok" if row % 2 else "checked"),
    "a constant": beside("TEMPERATURE", lambda _: "21.5"),
    "chroma and hue": beside("LAB_C", lambda row: f"{row % 90:.1f}"),
}

BAND_NAMES = ("SPECTRAL_NM{}", "SPECTRAL_NM_{}", "SPECTRAL_{}", "SPEC_{}", "nm{}", "{}nm", "{}_NM", "NM_{}", "R_{}")


@dataclass(frozen=True)
class Case:
    """A file, and the Lab (n, 3) it stands for: of `kind` inks those of FOGRA39L's rows, of `kind` spectra those of the
    chart. `rows` are the patches in the order of the plain file."""

    name: str
    kind: str
    data: bytes
    columns: Columns


def corpus() -> Iterator[Case]:
    """Every file, each once."""
    plain = inks()
    for name, export in TEXTS.items():
        yield Case(name, "inks", written(plain, export), plain)
    for name, header in HEADERS.items():
        yield Case(f"header: {name}", "inks", written(plain, Export(header=header)), plain)
    for name, change in VALUES.items():
        changed = change(dict(plain))
        yield Case(
            f"values: {name}",
            "inks",
            written(changed, Export()),
            {key.upper(): cells for key, cells in changed.items()},
        )
    yield from _spectral()


def _spectral() -> Iterator[Case]:
    values = reflectance()
    for name in BAND_NAMES:
        columns = spectra(values, name)
        yield Case(f"bands: {name}", "spectra", written(columns, Export()), columns)
    percent = spectra(100 * values, decimals=3)
    yield Case("percent", "spectra", written(percent, Export()), spectra(values))
    for decimals in (3, 4):
        columns = spectra(np.round(values, decimals), decimals=decimals)
        yield Case(f"spectra of {decimals} decimals", "spectra", written(columns, Export()), columns)
    columns = spectra(values)
    for name, header in HEADERS.items():
        yield Case(f"spectra, header: {name}", "spectra", written(columns, Export(header=header)), columns)
    for name in ("CR LF", "byte-order mark", "UTF-16", "spaces", "counts missing", "decimal comma", "no identifier"):
        yield Case(f"spectra, {name}", "spectra", written(columns, replace(TEXTS[name], header=())), columns)
