"""What every part of the settings shares: strict values, unknown keys refused, nothing changed once loaded."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field


class TomlTable(BaseModel):
    """A table of the TOML."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


LONGEST_PATH = 4095
"""Bytes, as in POSIX."""


def _usable(path: Path) -> Path:
    text = str(path)
    if len(text.encode()) > LONGEST_PATH:
        raise ValueError(f"expected a path of at most {LONGEST_PATH} bytes, got a longer one")
    if "\0" in text:
        raise ValueError("expected a path, got one with a NUL in it")
    return path


# TOML has arrays and strings alone, so these two are built from them even in strict mode.
Names = Annotated[tuple[str, ...], Field(strict=False)]
FilePath = Annotated[Path, Field(strict=False), AfterValidator(_usable)]

Name = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$")]
Days = Annotated[float, Field(gt=0, le=36_500)]
"""A hundred years at most: a longer span leaves the calendar when it is added to a date."""
Positive = Annotated[float, Field(gt=0)]
Minutes = Annotated[float, Field(gt=0, le=10_080)]
"""Of work at a printer or an instrument: a week at most."""
Hours = Annotated[float, Field(ge=0, le=8_760)]
"""Of waiting: a year at most, as a longer span may leave the calendar."""
Share = Annotated[float, Field(gt=0, le=1)]
