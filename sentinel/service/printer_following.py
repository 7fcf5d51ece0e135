"""Keeps what each printer's wear brings to its printing conditions up to date: all its readings and events in order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sentinel.application.situations import Hashes
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.core.drift.printer_items import MOST, MOVES, begins, events_of, sheets_of
from sentinel.core.drift.printer_outlook import FollowedPrinter, Item, PrinterSheet, WatchedPrinter, in_order
from sentinel.core.policy import ConditionPolicy, HousePolicy, short_hash
from sentinel.core.scoring.score import RULES_VERSION
from sentinel.ports import Clock, Store, WriteSession
from sentinel.service.dispatch import Addressees
from sentinel.service.state_recorder import StateRecorder

DERIVATION = 2
"""Raised whenever the same records and rules would lead to another outlook than before."""

AT_A_TIME = 200
"""Readings and events that are taken in one go, between which files are looked at."""


@dataclass(slots=True)
class _Followed:
    """A printer as far as it was followed, with the keys of all that it took and the rules under which it was read."""

    printer: FollowedPrinter
    keys: Sequence[tuple[int, int]]
    mark: str


@dataclass(frozen=True, slots=True)
class _Read:
    """The records of a printer, and what it is followed by: with the same basis they are the same."""

    printer: str
    basis: str
    items: Sequence[Item]
    plan: WatchedPrinter


class PrinterFollower:
    """Goes on from where each printer was left. What came late, was voided or told afterwards begins it anew, and comes
    to the same as if all had been known in time."""

    def __init__(self, store: Store, clock: Clock, addressees: Addressees, hashes: Hashes) -> None:
        self._store = store
        self._clock = clock
        self._addressees = addressees
        self._hashes = hashes
        self._followed: dict[str, _Followed] = {}
        self._read: _Read | None = None

    def follow(self, house: HousePolicy, stale: Mapping[str, str]) -> bool:
        """Derives the outlooks of one of these printers, or a part; tells whether there is more. `stale` is what
        `stale_printers` found. Raises PassingError where the store would not take it."""
        printer, basis = next(iter(stale.items()))
        names = _of_printer(house)[printer]
        called = [str(name) for name in names]
        read = self._records(house, printer, basis, names)
        followed = self._go_on(read, basis.partition("-")[0])
        if followed.taken < len(read.items):
            return True
        self._read = None
        with self._store.transaction() as session:
            forecasts, earlier = session.forecasts.latest(called), session.risks.latest(called)
        found = _outlooks(followed, [house.conditions[name] for name in names], forecasts, earlier)
        with self._store.transaction() as session:
            for name, outlook in found.items():
                session.risks.keep(name, basis, outlook)
            StateRecorder(session, house, self._addressees, self._hashes, self._clock.now()).conditions(names)
        return len(stale) > 1

    def _records(self, house: HousePolicy, printer: str, basis: str, names: Sequence[ConditionName]) -> _Read:
        """Read once, however many goes it takes to follow the printer through them."""
        read = self._read
        if read is None or (read.printer, read.basis) != (printer, basis):
            with self._store.transaction() as session:
                items = _items(session, house, names)
            read = self._read = _Read(printer, basis, items, WatchedPrinter.of(map(str, names), items))
        return read

    def _go_on(self, read: _Read, mark: str) -> FollowedPrinter:
        """The printer behind as many of the items as are taken in one go."""
        keys, before = [_key(item) for item in read.items], self._followed.get(read.printer)
        if (
            before is None
            or before.mark != mark
            or before.printer.plan != read.plan
            or list(before.keys) != keys[: before.printer.taken]
        ):
            before = _Followed(FollowedPrinter(read.plan), (), mark)
        before.printer.go_on(read.items, AT_A_TIME)
        before.keys = keys[: before.printer.taken]
        self._followed[read.printer] = before
        return before.printer


def _key(item: Item) -> tuple[int, int]:
    return (1, item.reading.seq) if isinstance(item, PrinterSheet) else (0, item.seq)


def _of_printer(house: HousePolicy) -> Mapping[str, Sequence[ConditionName]]:
    found: dict[str, list[ConditionName]] = defaultdict(list)
    for name in sorted(house.conditions, key=str):
        found[name.printer].append(name)
    return found


def stale_printers(session: WriteSession, house: HousePolicy, forecasts: Mapping[str, str]) -> dict[str, str]:
    """The printers whose outlooks are not those of their records, with the basis they are to have. `forecasts` are the
    bases of the conditions' forecasts, none of which is stale.

    The first part of a basis marks the rules under which readings are taken, the second the records.
    """
    kept, events = session.risks.bases(), session.forecasts.newest_events(MOVES)
    found = {}
    for printer, names in _of_printer(house).items():
        read = [
            (str(name), forecasts[str(name)], house.conditions[name].due.risk)
            for name in names
            if str(name) in forecasts
        ]
        basis = f"{short_hash((DERIVATION, RULES_VERSION))}-{short_hash((read, events.get(printer, 0), len(names)))}"
        if read and any(kept.get(str(name)) != basis for name in names):
            found[printer] = basis
    return found


def _items(session: WriteSession, house: HousePolicy, names: Sequence[ConditionName]) -> list[Item]:
    """All that was read and told of a printer since a beginning that moves seldom (`begins`)."""
    called = [str(name) for name in names]
    newest = session.checks.drift_readings(called, 1)
    last = max((each.measured_at for readings in newest.values() for each in readings), default=None)
    if last is None:
        return []
    since = begins(last)
    readings = session.checks.drift_readings(called, MOST, since)
    sheets = [
        sheet
        for name in names
        for sheet in sheets_of(str(name), house.conditions[name].scoring, readings.get(str(name), ()))
    ]
    events = events_of(names, session.events.holding({names[0].printer}, since))
    return in_order((sheet for sheet in sheets if sheet.reading.at >= since), events)


def _outlooks(
    printer: FollowedPrinter,
    policies: Sequence[ConditionPolicy],
    forecasts: Mapping[str, ConditionForecast],
    earlier: Mapping[str, RiskOutlook],
) -> dict[str, RiskOutlook | None]:
    kept = {name: forecasts.get(name) for name in (str(policy.name) for policy in policies)}
    ahead = printer.outlooks({name: each.bounds if each else () for name, each in kept.items()})
    found: dict[str, RiskOutlook | None] = {}
    for policy in policies:
        name, share = str(policy.name), policy.due.risk
        outlook = ahead.get(name)
        found[name] = outlook.after(earlier.get(name), share) if outlook and share is not None else outlook
    return found
