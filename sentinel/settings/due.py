"""The rules that make a check due, each with its switch."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sentinel.core.events import EventKind
from sentinel.settings.base import Days, Part, Positive

Kinds = Annotated[tuple[Annotated[EventKind, Field(strict=False)], ...], Field(strict=False)]
Range = Annotated[tuple[float, float], Field(strict=False)]

AFTER = (
    EventKind.RECALIBRATION,
    EventKind.SERVICE,
    EventKind.PROFILE,
    EventKind.PRINT_SETTINGS,
    EventKind.STOCK_LOT,
    EventKind.INK_LOT,
)


class DueHere(Part):
    """What one printing condition has otherwise; a key that is left out is that of [due]."""

    max_age_days: Days | None = None
    """A check is due when the last one is older than this."""
    working_days_only: bool | None = None
    """Whether that age counts working days alone."""
    warned_times: Annotated[int, Field(ge=0, le=20)] | None = None
    """A check is due after so many warnings in a row; 0 switches the rule off."""
    after: Kinds | None = None
    """A check is due after events of these kinds; an empty list switches the rule off."""
    never_run_after: Kinds | None = None
    """Checks before an event of these kinds no longer count: the condition is never-run."""
    square_metres: Positive | None = None
    """A check is due after so much was reported as printed."""
    standstill_days: Days | None = None
    """A check is due when the printer prints again after standing still for this long."""
    celsius: Range | None = None
    """The room's temperature, lowest and highest; outside it a check is due."""
    percent_humidity: Range | None = None
    """The room's relative humidity, lowest and highest; outside it a check is due."""
    target_changed: bool | None = None
    """Whether a check is due when the target is another one than the last check was scored against."""
    limits_changed: bool | None = None
    """Whether a check is due when other limits hold than the last check was scored with."""
    forecast: bool | None = None
    """Whether a check is due before a figure is expected to leave its limits; [drift] says how that is foretold."""
    lead_days: Annotated[float, Field(ge=0, le=365)] | None = None
    """How long before."""
    learning_days: Days | None = None
    """While nothing can be foretold a check is due when the last one is older than this, if that is less than
    `max_age_days`."""
    drift: bool | None = None
    """Whether a check is due when a control chart shows for the first time that a figure left its baseline."""


class Due(DueHere):
    """The rules of every printing condition."""

    max_age_days: Days | None = 7.0
    working_days_only: bool | None = False
    warned_times: Annotated[int, Field(ge=0, le=20)] | None = 0
    after: Kinds | None = AFTER
    never_run_after: Kinds | None = (EventKind.HEADS, EventKind.INK_SET)
    target_changed: bool | None = True
    limits_changed: bool | None = False
    forecast: bool | None = True
    lead_days: Annotated[float, Field(ge=0, le=365)] | None = 1.0
    learning_days: Days | None = 7.0
    drift: bool | None = True
    confirm_first: bool = True
    """Whether a first failure asks to be confirmed before it raises the alarm."""
    gross_factor: Annotated[float, Field(ge=1)] = 2.0
    """A figure beyond this many times its action limit is urgent at once."""


for _name, _field in Due.model_fields.items():
    _field.description = _field.description or DueHere.model_fields[_name].description
Due.model_rebuild(force=True)


def overlaid(rules: Due, own: DueHere) -> Due:
    """The rules with what one condition has otherwise laid over them."""
    return rules.model_copy(update={name: getattr(own, name) for name in own.model_fields_set})
