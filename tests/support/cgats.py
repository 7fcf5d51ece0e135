"""CGATS texts as an instrument's software exports them, of an invented chart with invented colours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple


class Patch(NamedTuple):
    """Ink amounts in percent, and the Lab they print on our invented stock."""

    device: tuple[int, int, int, int]
    lab: tuple[float, float, float]


PATCHES = (
    Patch((0, 0, 0, 0), (95.0, 0.5, -3.0)),
    Patch((100, 0, 0, 0), (55.0, -36.0, -49.0)),
    Patch((0, 100, 0, 0), (48.0, 73.0, -4.0)),
    Patch((0, 0, 100, 0), (89.0, -5.0, 92.0)),
    Patch((0, 0, 0, 100), (18.0, 0.5, 0.5)),
    Patch((50, 40, 40, 0), (58.0, 0.5, -1.0)),
    Patch((25, 19, 19, 0), (76.0, 0.0, -2.0)),
    Patch((50, 0, 0, 0), (75.0, -19.0, -27.0)),
    Patch((0, 50, 0, 0), (71.0, 36.0, -5.0)),
    Patch((0, 0, 50, 0), (92.0, -3.0, 42.0)),
)

GOOD, FAILING = 0.25, 9.0
"""Shifts of L* of every patch: well inside every house limit, far beyond the action limits."""


def table(
    shift: float = 0.0,
    *,
    m: str | None = "M1",
    created: str | None = None,
    patches: Sequence[Patch] = PATCHES,
    keywords: Mapping[str, str] | None = None,
) -> str:
    """One table, every L* moved by `shift`; `m` and `created` are left out where they are None."""
    said = {
        "ORIGINATOR": "print room",
        **({"CREATED": created} if created else {}),
        **({"MEASUREMENT_GEOMETRY": f"45/0, {m}"} if m else {}),
        **(keywords or {}),
    }
    lines = [f'{keyword} "{value}"' for keyword, value in said.items()]
    lines += [
        "NUMBER_OF_FIELDS 8",
        "BEGIN_DATA_FORMAT",
        "SAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K LAB_L LAB_A LAB_B",
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(patches)}",
        "BEGIN_DATA",
        *(_row(number, patch, shift) for number, patch in enumerate(patches, 1)),
        "END_DATA",
    ]
    return "\n".join(lines) + "\n"


def text(
    shift: float = 0.0,
    *,
    m: str | None = "M1",
    created: str | None = None,
    patches: Sequence[Patch] = PATCHES,
    keywords: Mapping[str, str] | None = None,
) -> str:
    """A whole file of one table."""
    return file_of(table(shift, m=m, created=created, patches=patches, keywords=keywords))


def file_of(*tables: str) -> str:
    """A file of these tables."""
    return "CGATS.17\n" + "\n".join(tables)


def _row(number: int, patch: Patch, shift: float) -> str:
    lightness, a, b = patch.lab
    amounts = " ".join(map(str, patch.device))
    return f"A{number} {amounts} {lightness + shift:.3f} {a:.3f} {b:.3f}"
