"""The documentation of the codes is complete, and every code is met by some text."""

from __future__ import annotations

import re
from enum import StrEnum
from pathlib import Path

import pytest

import sentinel.core.measurement.cgats
from sentinel.core.measurement.cgats import Assumed, Refused

README = Path(sentinel.core.measurement.cgats.__file__).with_name("README.md").read_text()
SOURCES = [
    path.read_text()
    for path in Path(sentinel.core.measurement.cgats.__file__).parent.glob("*.py")
    if path.stem != "codes"
]


def listed(heading: str) -> list[str]:
    """The codes in the table below a heading, in order."""
    section = README.partition(f"## {heading}\n")[2].partition("\n## ")[0]
    return re.findall(r"^\| `([a-z0-9-]+)` \|", section, re.M)


@pytest.mark.parametrize(("heading", "codes"), [("Codes of refusals", Refused), ("Codes of assumptions", Assumed)])
def test_documentation_lists_every_code_once(heading: str, codes: type[StrEnum]) -> None:
    assert sorted(listed(heading)) == sorted(code.value for code in codes)


@pytest.mark.parametrize("code", [*Refused, *Assumed])
def test_every_code_is_used(code: StrEnum) -> None:
    assert any(f"{type(code).__name__}.{code.name}" in source for source in SOURCES)
