"""How the morning's round is planned."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sentinel.settings.base import Hours, Part


class Round(Part):
    soon_days: Annotated[float, Field(ge=0, le=36_500)] = 1.0
    """A check that turns due within so many days is made in the same round; with 0 only what is due already."""
    assumed_drying_hours: Annotated[Hours, Field(gt=0)] = 24.0
    """Taken where no drying time is told for a stock, and said to be an assumption; wet charts must not be measured."""
