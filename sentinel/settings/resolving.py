"""The settings in force for one unit of work, turned into what the core works with."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from typing import Protocol

from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.due import Climate, DueRules
from sentinel.core.conditions.measurability import Surface, certificate_remark, obstacles
from sentinel.core.conditions.name import ConditionName, folded
from sentinel.core.conditions.routing import Catalogue, RouteRule
from sentinel.core.measurement import MeasurementCondition
from sentinel.core.scoring.policy import InkSet, OwnGroup, Policy, ScoringOptions
from sentinel.core.verdict import Reason
from sentinel.settings.due import overlaid
from sentinel.settings.loading import Loaded
from sentinel.settings.room import RouteTable
from sentinel.settings.targets_and_limits import HOUSE_WEIGHTS, ConditionTable, MeasurementsTable


class _Spelled(Protocol):
    @property
    def aliases(self) -> tuple[str, ...]: ...


@dataclass(frozen=True)
class Snapshot:
    """Immutable; a reload makes a new one."""

    loaded: Loaded

    @cached_property
    def routes(self) -> tuple[RouteRule, ...]:
        return tuple(map(_rule, self.loaded.settings.routes))

    @cached_property
    def conditions(self) -> dict[ConditionName, ConditionTable]:
        named = ((ConditionName.parse(name), own) for name, own in self.loaded.settings.conditions.items())
        return {name: own for name, own in named if name is not None}

    @cached_property
    def catalogue(self) -> Catalogue:
        settings = self.loaded.settings
        return Catalogue(_spellings(settings.printers), _spellings(settings.substrates), frozenset(self.conditions))

    @cached_property
    def policy(self) -> Policy:
        return policy_of(self.loaded.settings.measurements)

    def reckoning(self, target: str, printer: str) -> ScoringOptions:
        """How figures are made for this target on this printer."""
        settings = self.loaded.settings
        file = settings.targets[target]
        return ScoringOptions(
            ink_names=settings.printers[printer].inks,
            own_groups={name: OwnGroup(own.names, own.where) for name, own in file.groups.items()},
            share_beyond=settings.measurements.share_beyond,
            ink_space=file.colour_path == "ink-space",
        )

    def ink_set(self, name: ConditionName) -> InkSet:
        """The inks this printer lays on this stock."""
        settings = self.loaded.settings
        left_out = frozenset(settings.substrates[name.substrate].without_inks)
        return InkSet(settings.printers[name.printer].inks, left_out)

    def obstacles(self, name: ConditionName) -> tuple[Reason, ...]:
        """Why this condition cannot be measured, if it cannot."""
        own, substrate = self.conditions[name], self.loaded.settings.substrates[name.substrate]
        surface = Surface(substrate.finish, substrate.base, substrate.opacity, substrate.texture)
        return obstacles(surface, own.not_measurable, bool(own.measurable))

    @cached_property
    def recent_checks(self) -> int:
        """How many of the last checks the rules look at."""
        return max((self.rules(name).warned_times or 1 for name in self.conditions), default=1)

    def rules(self, name: ConditionName) -> DueRules:
        """What makes a check of this condition due."""
        own = self.conditions[name]
        due = overlaid(self.loaded.settings.due, own.due)
        max_age = own.max_age_days if own.max_age_days is not None else due.max_age_days
        climate = Climate(due.celsius, due.percent_humidity) if due.celsius or due.percent_humidity else None
        return DueRules(
            max_age=_days(max_age),
            calendar=self.loaded.settings.site.calendar if due.working_days_only else Calendar(),
            warned_times=due.warned_times or None,
            after=frozenset(due.after or ()),
            never_run_after=frozenset(due.never_run_after or ()),
            square_metres=due.square_metres,
            standstill=_days(due.standstill_days),
            climate=climate,
            target_changed=bool(due.target_changed),
            limits_changed=bool(due.limits_changed),
            lead=timedelta(days=due.lead_days or 0.0) if due.forecast else None,
            learning=_days(due.learning_days) if due.forecast and max_age is not None else None,
            drift=bool(due.drift),
            resets=frozenset(self.loaded.settings.drift.reset_after),
        )

    def drying_hours(self, name: ConditionName) -> float | None:
        """How long a chart of this stock dries with this printer's ink; 0 is dry at once, None where nobody said."""
        settings = self.loaded.settings
        substrate, technology = settings.substrates[name.substrate], settings.printers[name.printer].technology
        return substrate.drying_hours_by_technology.get(technology, substrate.drying_hours)

    @cached_property
    def diagnosis_weights(self) -> dict[str, float]:
        """What a diagnosis expects beforehand, by cause: the house's weights times those of the settings."""
        own = {str(cause): weight for cause, weight in self.loaded.settings.diagnosis.weights.items()}
        return {cause: weight * own.get(cause, 1.0) for cause, weight in HOUSE_WEIGHTS.items()}

    @cached_property
    def neighbours(self) -> Counter[str]:
        """How many conditions each printer has."""
        return Counter(name.printer for name in self.conditions)

    @cached_property
    def drift_mark(self) -> str:
        """A name of the rules of drift; equal rules have the same."""
        return self.loaded.settings.drift.model_dump_json()

    def certificate_remark(self, serial: str | None, day: date) -> Reason | None:
        """What is to be said of a reading of this instrument on this day."""
        instrument = self.loaded.settings.instruments.get(serial or "")
        return certificate_remark(serial, instrument.certificate_until, day) if instrument else None

    def targets_of_printer(self, printer: str) -> dict[str, str]:
        """Every target used on this printer with what people call its stock, or stocks."""
        substrates = self.loaded.settings.substrates
        stocks: dict[str, list[str]] = {}
        for name, own in self.conditions.items():
            for target in own.targets if name.printer == printer else ():
                stocks.setdefault(target, []).append(substrates[name.substrate].label or name.substrate)
        return {target: " or ".join(dict.fromkeys(labels)) for target, labels in stocks.items()}

    def declared(self, said: MeasurementCondition, serial: str | None, rule: RouteRule | None) -> MeasurementCondition:
        """What a file says of its measurement condition, filled up with what its instrument or route declares."""
        instrument = self.loaded.settings.instruments.get(serial or "")
        sources = [source for source in (instrument, rule) if source is not None]
        m = said.m or next((source.m_condition for source in sources if source.m_condition), None)
        backing = said.backing or next((source.backing for source in sources if source.backing), None)
        return replace(said, m=m, backing=backing)


def policy_of(measurements: MeasurementsTable) -> Policy:
    """The settings' [measurements] as the scoring takes them."""
    return Policy(
        score_unknown_m=measurements.unknown_m_condition == "score",
        least_patches=measurements.least_patches,
        least_share=measurements.least_share,
        rival_share=measurements.rival_share,
    )


def _days(number: float | None) -> timedelta | None:
    return None if number is None else timedelta(days=number)


def _rule(route: RouteTable) -> RouteRule:
    fixed = {"printer": route.printer, "substrate": route.substrate, "mode": route.mode}
    return RouteRule(
        by=route.by,
        keyword=route.keyword,
        pattern=re.compile(route.pattern),
        fixed={part: name for part, name in fixed.items() if name is not None},
        m_condition=route.m_condition,
        backing=route.backing,
    )


def _spellings(things: Mapping[str, _Spelled]) -> dict[str, str]:
    return {folded(spelling): name for name, thing in things.items() for spelling in (name, *thing.aliases)}
