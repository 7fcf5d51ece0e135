"""Every fault of the settings, before the service meets it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sentinel.core.verdict import Unscored
from sentinel.ports import Targets
from sentinel.settings.references import duty_gaps

if TYPE_CHECKING:
    from sentinel.settings.models import Settings

Faults = Callable[[], Sequence[str]]
"""What is wrong with something that the settings name, a sentence each."""


@dataclass(frozen=True, slots=True)
class SettingsReview:
    """What was looked at, every fault, and what is no fault but should be meant."""

    conditions: int
    targets: int
    recipients: int
    faults: Sequence[str]
    remarks: Sequence[str] = ()


def review(settings: Settings, targets: Targets, recipients: Faults, templates: Faults) -> SettingsReview:
    """Settings that could be loaded, with every target, every recipient's URL and every template tried."""
    return SettingsReview(
        len(settings.conditions),
        len(settings.targets),
        len(settings.recipients),
        [*_of_targets(settings, targets), *recipients(), *templates()],
        [f"duty: {remark}" for remark in duty_gaps(settings)],
    )


def _of_targets(settings: Settings, targets: Targets) -> Iterator[str]:
    for name, own in settings.targets.items():
        try:
            targets.target(name, own.source)
        except Unscored as outcome:
            yield f"targets.{name}: {outcome.reason.message}"
