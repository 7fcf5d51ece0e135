"""What happened in the print room: told, listed, taken back."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import cast

from sentinel.application.causes import bound_to_check
from sentinel.application.names import known_or_recorded
from sentinel.core.conditions.event_input import Known, event_from, kind_of, moment, one_line
from sentinel.core.conditions.events import Event, EventKind, RecordedEvent, Undoing
from sentinel.core.conditions.name import folded
from sentinel.core.policy import HousePolicy
from sentinel.errors import AdminError
from sentinel.ports import Opening, Reading, ReadSession


@dataclass(frozen=True, slots=True)
class EventsWanted:
    """Which events, as somebody wrote it; None for any."""

    printer: str | None = None
    kind: str | None = None
    since: str | None = None
    undone_too: bool = False


def add_event(house: HousePolicy, opening: Opening, texts: Mapping[str, str], now: datetime) -> Event:
    """Records an event that somebody tells in words, each by its name. Raises AdminError where they tell of none."""
    event = event_from(texts, Known(house.catalogue, house.calendar.zone, now))
    with opening() as store, store.transaction() as session:
        event = bound_to_check(event, session.checks)
        seq = cast("int", session.events.add(event, None, now))  # None is for a source that was taken before
    return replace(event, seq=seq)


def events_of(house: HousePolicy, reading: Reading, wanted: EventsWanted) -> list[RecordedEvent]:
    """In the order in which they happened. Raises AdminError for a printer, a time or a kind that is none."""
    zone = house.calendar.zone
    since = None if wanted.since is None else moment(wanted.since, zone)
    kinds = set(EventKind) if wanted.kind is None else {kind_of(wanted.kind)}
    records = reading()
    recorded = records.events.recorded(_printers(house, records, wanted.printer), since)
    return [each for each in recorded if each.event.kind in kinds and (wanted.undone_too or each.undoing is None)]


def _printers(house: HousePolicy, records: ReadSession, written: str | None) -> Collection[str] | None:
    """A printer that the settings no longer have keeps its events."""
    if written is None:
        return None
    known = house.catalogue.printers
    name = known_or_recorded(
        "a printer of the settings or the records",
        written,
        known.values(),
        lambda text: known.get(folded(text)),
        lambda text: bool(records.events.recorded({text})),
    )
    return {name}


def undo_event(reading: Reading, opening: Opening, seq: int, by: str, why: str, now: datetime) -> RecordedEvent:
    """Takes an event back by a counter-entry. Raises AdminError where there is none, or it was taken back before."""
    undoing = Undoing(_words("--by", by), _words("--why", why), now)
    found = next((each for each in reading().events.recorded() if each.event.seq == seq), None)
    if found is None:
        raise AdminError(f"expected the number of an event, got {seq}: see `sentinel event list`")
    with opening() as store, store.transaction() as session:
        undone = session.events.undo(seq, undoing)
    if not undone:
        raise AdminError(f"expected an event that still holds, got {seq}, which was undone before")
    return replace(found, undoing=undoing)


def _words(option: str, text: str) -> str:
    line = one_line(option, text)
    if not line:
        raise AdminError(f"expected words after {option}, got none")
    return line
