"""What every part of the settings shares: strict values, unknown keys refused, nothing changed once loaded."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class TomlTable(BaseModel):
    """A table of the TOML."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, allow_inf_nan=False, use_attribute_docstrings=True
    )


# TOML has arrays and strings alone, so these two are built from them even in strict mode.
Names = Annotated[tuple[str, ...], Field(strict=False)]
FilePath = Annotated[Path, Field(strict=False)]

Name = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$")]
Days = Annotated[float, Field(gt=0, le=36_500)]
"""A hundred years at most: a longer span leaves the calendar when it is added to a date."""
Positive = Annotated[float, Field(gt=0)]
Minutes = Annotated[float, Field(gt=0, le=10_080)]
"""Of work at a printer or an instrument: a week at most."""
Hours = Annotated[float, Field(ge=0, le=8_760)]
"""Of waiting: a year at most, as a longer span may leave the calendar."""
Share = Annotated[float, Field(gt=0, le=1)]
