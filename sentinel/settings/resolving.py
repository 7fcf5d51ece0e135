"""The settings in force for one unit of work, resolved into what the core works with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Protocol, TypeVar

from sentinel.core.cases.notice_policy import NoticePolicy
from sentinel.core.cases.payloads import ConditionFacts
from sentinel.core.conditions.due import DueRules
from sentinel.core.conditions.measurability import obstacles
from sentinel.core.conditions.name import Catalogue, ConditionName, folded
from sentinel.core.drift.rules import DriftWatch
from sentinel.core.inks.ordinary import expected_movement
from sentinel.core.policy import ConditionPolicy, EffectiveSettings, HousePolicy
from sentinel.core.scoring.policy import (
    Limits,
    ScoringOptions,
    ScoringPolicy,
    TargetPolicy,
    laid_over,
    mark,
)
from sentinel.core.shedding import SheddingRules
from sentinel.settings.due import overlaid
from sentinel.settings.loading import Loaded
from sentinel.settings.models import Settings
from sentinel.settings.targets_and_limits import HOUSE, HOUSE_LIMITS, ConditionTable, limits_of, named_set

Key = TypeVar("Key")
Value = TypeVar("Value")


class OnFirstUse(Mapping[Key, Value]):
    """A mapping whose values are made when they are first asked for, and kept."""

    def __init__(self, keys: Collection[Key], make: Callable[[Key], Value]) -> None:
        self._keys = keys
        self._make = make
        self._made: dict[Key, Value] = {}

    def __getitem__(self, key: Key) -> Value:
        if key not in self._made:
            if key not in self._keys:
                raise KeyError(key)
            self._made[key] = self._make(key)
        return self._made[key]

    def __contains__(self, key: object) -> bool:
        return key in self._keys

    def __iter__(self) -> Iterator[Key]:
        return iter(self._keys)

    def __len__(self) -> int:
        return len(self._keys)


class _Spelled(Protocol):
    @property
    def aliases(self) -> tuple[str, ...]: ...
    @property
    def label(self) -> str | None: ...


@dataclass(frozen=True)
class Snapshot:
    """Immutable; a reload makes a new one."""

    loaded: Loaded

    @cached_property
    def house(self) -> HousePolicy:
        """What the settings decide, for whoever works by them; a condition is resolved when it is first asked for."""
        settings = self.loaded.settings
        return HousePolicy(
            fingerprint=self.loaded.fingerprint,
            conditions=self.conditions,
            targets={name: own.source for name, own in settings.targets.items()},
            routes=tuple(route.rule for route in settings.routes),
            catalogue=self.catalogue,
            instruments={serial: own.rules for serial, own in settings.instruments.items()},
            calendar=settings.site.calendar,
            folders=settings.folders.rules,
            reader=settings.reader.bounds(settings.folders.largest_mb),
            scoring=settings.measurements.rules,
            trusted=settings.measurements.trusted,
            drift=settings.drift.policy,
            notices=_notices(settings),
            round=settings.round.rules(settings.printers, settings.substrates),
            recent_checks=_recent_checks(settings),
        )

    @cached_property
    def conditions(self) -> Mapping[ConditionName, ConditionPolicy]:
        """Every printing condition by its name."""
        named = ((ConditionName.parse(name), own) for name, own in self.loaded.settings.conditions.items())
        tables = {name: own for name, own in named if name is not None}
        return OnFirstUse(tables, _Resolver(self.loaded.settings, tables).policy)

    @cached_property
    def catalogue(self) -> Catalogue:
        settings = self.loaded.settings
        return Catalogue(_spellings(settings.printers), _spellings(settings.substrates), frozenset(self.conditions))

    @property
    def shedding(self) -> SheddingRules:
        """Which files are let go by their age."""
        settings = self.loaded.settings
        windows = {
            str(ConditionName.parse(name)): DriftWatch(0, own.baseline, settings.site.zone).baseline_window
            for name, own in settings.conditions.items()
        }
        return SheddingRules(
            archive_months=settings.folders.archive_months,
            put_aside_months=settings.folders.put_aside_months,
            recent=max(settings.drift.most_readings, _recent_checks(settings)),
            windows={name: window for name, window in windows.items() if window is not None},
        )

    @property
    def in_force(self) -> EffectiveSettings:
        """For the record of what the service works with."""
        loaded = self.loaded
        return EffectiveSettings(loaded.path, loaded.fingerprint, loaded.settings.model_dump(mode="json"))

    def limited_figures(self) -> set[tuple[str, str]]:
        """Every (group, metric) that some limit is on."""
        settings = self.loaded.settings
        named = (each.limits for each in settings.limits.values())
        own = (each.limits for each in settings.conditions.values())
        return {
            (group, metric)
            for limits in (HOUSE_LIMITS, *named, *own)
            for group, each in limits.items()
            for metric in each
        }


class _Resolver:
    """Makes the policies of printing conditions, with what many have in common made once."""

    def __init__(self, settings: Settings, tables: Mapping[ConditionName, ConditionTable]) -> None:
        self._settings = settings
        self._tables = tables
        self._calendar, self._resets = settings.site.calendar, frozenset(settings.drift.reset_after)
        self._plain_due = settings.due.rules(self._calendar, self._resets)
        self._rules = settings.measurements.rules
        self._diagnosis = settings.diagnosis.rules(settings.recalibration.terms)
        self._neighbours = Counter(name.printer for name in tables)  # how many conditions each printer has
        self._limits_below = cache(self._laid_below)
        self._reckoning = cache(self._reckoned)

    def policy(self, name: ConditionName) -> ConditionPolicy:
        """Of one that is in the settings."""
        settings, own = self._settings, self._tables[name]
        substrate = settings.substrates[name.substrate]
        return ConditionPolicy(
            name=name,
            obstacles=obstacles(substrate.surface, own.not_measurable, bool(own.measurable)),
            scoring=self._scoring(name, own),
            diagnosis=self._diagnosis,
            movement=expected_movement(
                settings.printers[name.printer].technology, textured=substrate.texture == "textured"
            ),
            light_inks=settings.printers[name.printer].light_inks,
            due=self._due(own),
            drift=DriftWatch(self._neighbours[name.printer], own.baseline, settings.site.zone),
            urgency=settings.due.urgency,
            facts=_facts(settings, name),
            chart=settings.targets[own.targets[0]].times(own.print_minutes) if own.targets else None,
        )

    def _scoring(self, name: ConditionName, own: ConditionTable) -> ScoringPolicy:
        settings = self._settings
        printer = settings.printers[name.printer]
        return ScoringPolicy(
            own=own.targets,
            targets=OnFirstUse(settings.targets, lambda target: self._target(target, own, printer.inks)),
            stocks=self._stocks[name.printer],
            inks=settings.substrates[name.substrate].inks_of(printer),
            rules=self._rules,
        )

    def _target(self, name: str, own: ConditionTable, inks: tuple[str, ...]) -> TargetPolicy:
        source = self._settings.targets[name].source
        limits, limits_mark = self._limits(name, own)
        least_share = self._rules.least_share if source.least_share is None else source.least_share
        return TargetPolicy(source, limits, limits_mark, least_share, self._reckoning(name, inks))

    def _limits(self, target: str, own: ConditionTable) -> tuple[Limits, str]:
        """House, then kind of chart, then condition; with their mark."""
        below = self._limits_below(target, own.limit_set)
        if not own.limits:
            return below
        limits = laid_over(below[0], limits_of(own.limits))
        return limits, mark(limits)

    def _laid_below(self, target: str, own: str | None) -> tuple[Limits, str]:
        sets = self._settings.limits
        limits = named_set(sets, HOUSE)
        for name in (self._settings.targets[target].limit_set, own):
            if name is not None:
                limits = laid_over(limits, named_set(sets, name))
        return limits, mark(limits)

    def _reckoned(self, target: str, inks: tuple[str, ...]) -> ScoringOptions:
        table = self._settings.targets[target]
        return ScoringOptions(
            ink_names=inks,
            own_groups={name: own.group for name, own in table.groups.items()},
            share_beyond=self._settings.measurements.share_beyond,
            ink_space=table.colour_path == "ink-space",
            density_status=self._settings.measurements.density_status,
        )

    def _due(self, own: ConditionTable) -> DueRules:
        if own.max_age_days is None and not own.due.model_fields_set:
            return self._plain_due
        return overlaid(self._settings.due, own.due, own.max_age_days).rules(self._calendar, self._resets)

    @cached_property
    def _stocks(self) -> dict[str, dict[str, str]]:
        """By printer, every target used on it with what people call its stock, or stocks."""
        substrates = self._settings.substrates
        found: dict[str, dict[str, list[str]]] = {name.printer: {} for name in self._tables}
        for name, own in self._tables.items():
            for target in own.targets:
                label = substrates[name.substrate].label or name.substrate
                found[name.printer].setdefault(target, []).append(label)
        return {
            printer: {target: " or ".join(dict.fromkeys(labels)) for target, labels in stocks.items()}
            for printer, stocks in found.items()
        }


def _facts(settings: Settings, name: ConditionName) -> ConditionFacts:
    printer, substrate = settings.printers[name.printer], settings.substrates[name.substrate]
    return ConditionFacts(
        condition=str(name),
        printer=printer.label or name.printer,
        substrate=substrate.label or name.substrate,
        mode=name.mode,
        technology=printer.technology,
        drying_hours=substrate.drying(printer.technology),
        coated_side=substrate.coated_side,
        core_inches=substrate.core_inches,
        without_inks=substrate.without_inks,
        notes=substrate.notes,
    )


def _notices(settings: Settings) -> NoticePolicy:
    calendar, duty, daily_at = settings.site.calendar, settings.duties, settings.notices.daily_at
    subscribers = (own.subscriber(name, calendar, daily_at, duty) for name, own in settings.recipients.items())
    return settings.notices.policy((tell.rule for tell in settings.tell), subscribers, settings.site, duty)


def _recent_checks(settings: Settings) -> int:
    """Told without resolving every condition."""
    times = (_warned_times(settings, own) for own in settings.conditions.values())
    return max((number or 1 for number in times), default=1)


def _warned_times(settings: Settings, own: ConditionTable) -> int | None:
    """After how many warnings in a row a check of this condition is due."""
    return own.due.warned_times if "warned_times" in own.due.model_fields_set else settings.due.warned_times


def _spellings(things: Mapping[str, _Spelled]) -> dict[str, str]:
    """Names and aliases, which belong to one thing each; labels where they do."""
    labelled = Counter(folded(thing.label) for thing in things.values() if thing.label is not None)
    labels = {
        folded(thing.label): name
        for name, thing in things.items()
        if thing.label is not None and labelled[folded(thing.label)] == 1
    }
    return labels | {folded(spelling): name for name, thing in things.items() for spelling in (name, *thing.aliases)}
