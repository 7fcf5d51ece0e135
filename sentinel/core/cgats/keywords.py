"""The words of the standard: keywords and identifier lines of CGATS.17 / ISO 28178 and its forerunners."""

from __future__ import annotations

import re

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
