"""Field names: their spelling made one, and which kind of value each holds."""

from __future__ import annotations

import re

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
_GARBLED_BAND = re.compile(r"(?:SPEC|NM|R_)\w*\d\w*|\d\w*NM")
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
