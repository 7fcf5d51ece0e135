"""Where printing conditions stand now, and why."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sentinel.application.situations import ConditionRecords, Hashes, needed_since, situations
from sentinel.core.cases.standing import Standing, standing
from sentinel.core.conditions.explanation import StateExplanation, explain
from sentinel.core.conditions.name import ConditionName, folded, spelled
from sentinel.core.conditions.state import Situation, StateReport, derive
from sentinel.core.policy import HousePolicy
from sentinel.errors import AdminError
from sentinel.ports import ReadSession


@dataclass(frozen=True, slots=True)
class InForce:
    """The settings that the service last loaded, and whether they are those of the house."""

    path: str
    same: bool


@dataclass(frozen=True, slots=True)
class RoomStatus:
    """Every printing condition by its name, how many notices are in which state, and the settings in force.

    `in_force` is None where no service has worked with this store yet.
    """

    reports: dict[str, StateReport]
    standings: dict[str, Standing]
    notices: dict[str, int]
    in_force: InForce | None


def situations_now(
    house: HousePolicy, records: ReadSession, hashes: Hashes, names: Sequence[ConditionName]
) -> dict[ConditionName, Situation]:
    """Those of these conditions, as the records and the settings tell them now."""
    checks = records.checks.latest(recent=house.recent_checks)
    events = records.events.holding(None, needed_since(checks))
    known = ConditionRecords(
        checks, events, records.targets.versions, records.forecasts.latest(), records.risks.latest()
    )
    return situations([house.conditions[name] for name in names], known, hashes)


def states_now(
    house: HousePolicy, records: ReadSession, hashes: Hashes, names: Sequence[ConditionName], now: datetime
) -> dict[ConditionName, StateReport]:
    """The states of these conditions."""
    found = situations_now(house, records, hashes, names)
    return {name: derive(situation, now) for name, situation in found.items()}


def room_status(house: HousePolicy, records: ReadSession, hashes: Hashes, now: datetime) -> RoomStatus:
    """Where everything stands, derived afresh."""
    names = sorted(house.conditions, key=str)
    reports = {str(name): report for name, report in states_now(house, records, hashes, names, now).items()}
    return RoomStatus(reports, standings(records, reports, now), records.outbox.counts(), _in_force(house, records))


def standings(records: ReadSession, reports: Mapping[str, StateReport], now: datetime) -> dict[str, Standing]:
    """Where each of these conditions stands, with what is open about it."""
    opened = records.cases.open() if reports else {}
    return {name: standing(opened.get(name, {}), report, now) for name, report in reports.items()}


def standings_of(
    house: HousePolicy, records: ReadSession, hashes: Hashes, called: Collection[str], now: datetime
) -> dict[str, Standing]:
    """Where those of these stand that the settings know, derived afresh."""
    names = sorted((name for name in house.conditions if str(name) in called), key=str)
    reports = states_now(house, records, hashes, names, now) if names else {}
    return standings(records, {str(name): report for name, report in reports.items()}, now)


def _in_force(house: HousePolicy, records: ReadSession) -> InForce | None:
    effective = records.service.settings()
    return None if effective is None else InForce(effective[0], effective[1] == house.fingerprint)


def named(house: HousePolicy, text: str) -> ConditionName:
    """A printing condition by its names or aliases. Raises AdminError where the settings have none of this name."""
    written = ConditionName.parse("/".join(part.strip() for part in text.split("/")))
    name = written and spelled(written, house.catalogue)
    if name is None or name not in house.conditions:
        known = ", ".join(sorted(map(str, house.conditions))) or "none"
        raise AdminError(f"expected a printing condition of the settings ({known}), got {text!r}")
    return name


def named_printer(house: HousePolicy, spelling: str) -> str:
    """A printer by its name or an alias. Raises AdminError where the settings have none of this name."""
    found = house.catalogue.printers.get(folded(spelling))
    if found is None:
        known = ", ".join(sorted(house.round.printers)) or "none"
        raise AdminError(f"expected a printer of the settings ({known}), got {spelling!r}")
    return found


def moved_last(records: ReadSession, report: StateReport) -> Sequence[Mapping[str, Any]] | None:
    """What moved on the sheet of the last check, in the form of the JSON contract; None where that is not known."""
    last = report.last
    found = None if last is None else records.checks.find(last.seq)
    return None if found is None else found.moved


def explained(
    house: HousePolicy, records: ReadSession, hashes: Hashes, name: ConditionName, now: datetime
) -> tuple[StateExplanation, Standing]:
    """Why this condition stands where it stands: every rule that can make a check of it due; and its case."""
    found = explain(situations_now(house, records, hashes, [name])[name], now)
    return found, standings(records, {str(name): found.report}, now)[str(name)]
