"""Texts out of the grammar of CGATS.17 and of files of events: each rule with what is usual, what is met now and then,
and what nobody should write."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from functools import lru_cache

KEYWORDS = (
    *("ORIGINATOR", "DESCRIPTOR", "CREATED", "INSTRUMENTATION", "MEASUREMENT_SOURCE", "PRINT_CONDITIONS", "SERIAL"),
    *("ILLUMINANT", "OBSERVER", "FILTER", "POLARIZATION", "SAMPLE_BACKING", "MEASUREMENT_GEOMETRY", "WHITE_POINT"),
    *("RELATIVE_TO", "MEASUREMENT_CONDITION", "KEYWORD", "NOTE", "Private", "TARGET_TYPE", "PRINTER", "STATUS", "#"),
)
VALUES = (
    *("M1", "M0", "M2 (UV cut)", "D50", "A", "2 degrees", "10", "white", "black backing", "none", "paper", "45/0, M1"),
    *("north/satin-240", "2026-03-05 14:22:10 +01:00", "05/03/2026 14:22", "Filter=No Illumination=D50", "serial 4711"),
    *("", "?", "96.4 100 82.5", "measured with M1", "a=b c=d", "x" * 60, "1" * 40, "a 'quoted' word", "\u202eevil"),
)
NUMBERS = ("0", "50", "95.5", "-0.1", "1E-02", "100", "0.123456", "12,5", "1,234", "NA", "-", "", "nan", "255", "3.1.2")
ODD_NUMBERS = ("-4E+18", "1E+300", "99999", "-999", "1e5", "9" * 30, "0x10", "\u0663", "--5", "5 5", "1E+9999", "1'000")
IDS = ("1", "A1", "001", "1e3", "A#1", "Paper white", "", "x" * 30, "\u00e4", "'q'", '"', "END_DATA", "a_b", ".5")
INKS = (
    ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"),
    ("RGB_R", "RGB_G", "RGB_B"),
    tuple(f"6CLR_{ink}" for ink in range(1, 7)),
    ("CMYKOG_C", "CMYKOG_M", "CMYKOG_Y", "CMYKOG_K", "CMYKOG_O", "CMYKOG_G"),
    ("CYAN", "MAGENTA", "YELLOW", "BLACK"),
)
COLOURS = (
    ("LAB_L", "LAB_A", "LAB_B"),
    ("XYZ_X", "XYZ_Y", "XYZ_Z"),
    ("LAB_L", "LAB_A", "LAB_B", "LAB_C", "LAB_H"),
    ("XYY_X", "XYY_Y", "XYY_CAPY"),
    ("D_RED", "D_GREEN", "D_BLUE", "D_VIS"),
    ("LAB_L", "LAB_A"),
)
MORE = (
    "SAMPLE_NAME",
    "SAMPLE_LOC",
    "SPOT_1",
    "ORANGE",
    "TEMPERATURE",
    "D_MAJOR_FILTER",
    "STDEV_DE",
    "NOTE 1",
    "SPECx1",
)


def sheet(rng: random.Random) -> bytes:
    """One file of measurements, perhaps of several tables."""
    gap = rng.choice(["\t", "\t", "\t", " ", "  ", " \t"])
    tables = "".join(_table(rng, gap) for _ in range(rng.choice([1, 1, 1, 2, 3])))
    first = rng.choice(["CGATS.17", "CGATS.17", "IT8.7/2", "ISO28178", "Some program 1.0", ""])
    text = f"{first}\n{tables}{rng.choice(['', '', '', '', '', '# end', 'NOTE left'])}\n"
    text = text.replace("\n", rng.choice(["\n", "\n", "\r\n", "\r"]))
    return text.encode(rng.choice(["utf-8"] * 6 + ["utf-8-sig", "latin-1", "utf-16", "utf-16-be"]), "replace")


def _table(rng: random.Random, gap: str) -> str:
    fields = _fields(rng)
    count = rng.choice([0, 1, 2, 3, 5, 8, 14, 14, 30])
    rows = [_row(rng, fields, gap, odd=rng.random() < 0.03) for _ in range(count)]
    lines = [_statement(rng) for _ in range(rng.choice([0, 1, 3, 6]))]
    if rng.random() < 0.4:
        lines.append(f"NUMBER_OF_FIELDS {len(fields) if rng.random() < 0.97 else rng.choice(NUMBERS)}")
    if rng.random() < 0.96:
        lines += ["BEGIN_DATA_FORMAT", *_listed(rng, fields, gap), "END_DATA_FORMAT"]
    if rng.random() < 0.4:
        lines.append(f"NUMBER_OF_SETS {count if rng.random() < 0.97 else rng.choice(NUMBERS)}")
    return "\n".join([*lines, "BEGIN_DATA", *rows, "END_DATA", ""])


def _fields(rng: random.Random) -> list[str]:
    found = ["SAMPLE_ID"] if rng.random() < 0.95 else []
    if rng.random() < 0.6:
        found += rng.choice(INKS)
    if rng.random() < 0.8:
        found += rng.choice(COLOURS)
    if rng.random() < 0.4:
        found += _bands(rng)
    found += rng.sample(MORE, rng.choice([0, 0, 0, 1, 2]))
    if rng.random() < 0.1:
        rng.shuffle(found)
    return found or ["SAMPLE_ID"]


def _bands(rng: random.Random) -> list[str]:
    step = rng.choice([5, 10, 10, 10, 20, 20, 20, 7])
    if rng.random() < 0.1:
        return ["SPECTRAL_NM", rng.choice(["SPECTRAL_DEC", "SPECTRAL_PCT"])] * rng.choice([1, 3])
    form = rng.choice(["SPECTRAL_NM{}", "SPECTRAL_{}", "nm{}", "R_{}", "{}nm"])
    return [form.format(380 + step * band) for band in range(rng.choice([1, 4, 16]))]


def _listed(rng: random.Random, fields: Sequence[str], gap: str) -> list[str]:
    names = [_quoted(rng, name) if " " in name else name for name in fields]
    if rng.random() < 0.1:
        return names
    return [gap.join(names)]


def _quoted(rng: random.Random, text: str) -> str:
    mark = rng.choice(['"', '"', '"', "'", ""])
    return f"{mark}{text}{mark}"


def _row(rng: random.Random, fields: Sequence[str], gap: str, odd: bool) -> str:
    def cell(field: str) -> str:
        if field in ("SAMPLE_ID", "SAMPLE_NAME", "SAMPLE_LOC"):
            told = rng.choice(IDS) if rng.random() < 0.1 else str(rng.randrange(40))
            return _quoted(rng, told) if rng.random() < 0.2 or " " in told else told
        if odd and rng.random() < 0.3:
            return rng.choice(ODD_NUMBERS)
        if rng.random() < 0.03:
            return rng.choice(NUMBERS)
        return _measured(rng, field)

    cells = [cell(field) for field in fields]
    if rng.random() < 0.01:
        del cells[-1]
    comment = rng.choice([" # wet", "\t"]) if rng.random() < 0.02 else ""
    return gap.join(cells) + comment


def _measured(rng: random.Random, field: str) -> str:
    """A number of the size that such a field has."""
    lowest, highest, digits = _size(field)
    return (
        f"{lowest + (highest - lowest) * rng.random():.{digits}f}"
        if digits
        else str(rng.choice((0, 0, 25, 50, 75, 100)))
    )


@lru_cache(maxsize=4096)
def _size(field: str) -> tuple[float, float, int]:
    """The lowest and the highest value and the digits after the point; no digits for device values."""
    if field.startswith(("LAB_A", "LAB_B")):
        return -90.0, 90.0, 2
    if field.startswith(("D_", "XYY", "STDEV")):
        return 0.0, 2.0, 3
    if field.startswith(("LAB", "XYZ")):
        return 1.0, 95.0, 2
    if any(letter.isdigit() for letter in field) and "CLR" not in field:
        return 0.0, 1.0, 4
    return 0.0, 100.0, 0


def _statement(rng: random.Random) -> str:
    keyword, value = rng.choice(KEYWORDS), rng.choice(VALUES)
    if rng.random() < 0.05:
        value *= 30
    return f"{keyword} {_quoted(rng, value)}"


EVENT_KINDS = (
    "service",
    "stock-lot",
    "chart-printed",
    "climate",
    "ink-lot",
    "recalibration",
    "servise",
    "",
    "SERVICE ",
)
EVENT_NAMES = ("kind", "printer", "substrate", "mode", "at", "by", "note", "celsius", "percent_humidity", "lot", "Kind")
EVENT_VALUES = (
    *("north", "satin", "2026-03-01T10:00", "2026-03-01", "9999-12-31T23:59:59+14:00", "21.5", "-4E+18", "x" * 1200),
    *("", "007", "a\u0301", "\u202eevil", "1e999", "null", "\u0663", "line\u2028end", "\x07", "say \\", "north "),
)


def events(rng: random.Random) -> tuple[str, bytes]:
    """The name and the bytes of one file of events."""
    names = ["kind", "printer", *rng.sample(EVENT_NAMES[2:], rng.choice([0, 1, 3]))]
    rows = [[_told(rng, name) for name in names] for _ in range(rng.choice([0, 1, 2, 6]))]
    if rng.random() < 0.5:
        gap = rng.choice(",;\t")
        lines = [gap.join(names), *(gap.join(_cell(rng, each, gap) for each in row) for row in rows)]
        return "e.csv", ("\n".join(lines) + "\n").encode(rng.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16"]))
    lines = ["{" + ", ".join(_member(rng, *each) for each in zip(names, row, strict=True)) + "}" for row in rows]
    return "e.jsonl", ("\n".join(lines) + "\n").encode()


def _told(rng: random.Random, name: str) -> str:
    if name == "kind" and rng.random() < 0.9:
        return rng.choice(EVENT_KINDS)
    if name == "printer" and rng.random() < 0.9:
        return "north"
    return rng.choice(EVENT_VALUES)


def _cell(rng: random.Random, text: str, gap: str) -> str:
    return f'"{text}"' if gap in text or rng.random() < 0.2 else text


_DEEP: tuple[Callable[[str], str], ...] = (lambda text: f"[{text}]", lambda text: f'{{"a": {text}}}')


def _member(rng: random.Random, name: str, text: str) -> str:
    value = text if rng.random() < 0.1 else '"' + text.replace('"', "'") + '"'
    if rng.random() < 0.05:
        for _ in range(rng.choice([1, 3, 400])):
            value = rng.choice(_DEEP)(value)
    return f'"{name}": {value}'
