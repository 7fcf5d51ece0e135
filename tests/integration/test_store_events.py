"""Events in a real store: added, read back, undone by a counter-entry; no row is ever changed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta, timezone
from pathlib import Path

import pytest

from sentinel.adapters.store.read_session import ReadSession
from sentinel.adapters.store.store import Store
from sentinel.core.conditions.events import Event, EventKind, RecordedEvent, Undoing
from tests.support.clock import NOON
from tests.support.room import SITE, rows

HOUR = timedelta(hours=1)
HEADS = Event(EventKind.HEADS, NOON, "north", facts={"name": "set 4"}, told_by="Ana")
AREA = Event(EventKind.PRINTED_AREA, NOON - HOUR, "south", "satin-240", "fine", {"square_metres": 4.5})


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "store.sqlite"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    opened = Store(path, SITE)
    yield opened
    opened.close()


def add(store: Store, event: Event, source: str | None = None) -> int | None:
    with store.transaction() as session:
        return session.events.add(event, source, NOON + HOUR)


def undo(store: Store, seq: int, why: str = "told twice") -> bool:
    with store.transaction() as session:
        return session.events.undo(seq, Undoing("Ben", why, NOON + 2 * HOUR))


def events(store: Store, *printers: str) -> list[Event]:
    with store.transaction() as session:
        return session.events.holding(printers or None)


def with_seq(event: Event, seq: int) -> Event:
    return Event(event.kind, event.at, event.printer, event.substrate, event.mode, event.facts, event.told_by, seq)


def test_events_come_back_whole_in_the_order_in_which_they_happened(store: Store) -> None:
    assert (add(store, HEADS), add(store, AREA)) == (1, 2)
    assert events(store) == [with_seq(AREA, 2), with_seq(HEADS, 1)]


def test_a_time_of_another_zone_comes_back_as_the_same_moment(store: Store) -> None:
    add(store, Event(EventKind.SERVICE, NOON.astimezone(timezone(-5 * HOUR)), "north"))
    assert [event.at for event in events(store)] == [NOON]


def test_two_events_of_one_moment_come_back_as_they_were_recorded(store: Store) -> None:
    for name in ("b", "a", "c"):
        add(store, Event(EventKind.INK_SET, NOON, "north", facts={"name": name}))
    assert [event.facts["name"] for event in events(store)] == ["b", "a", "c"]


def test_events_are_asked_for_by_printer_and_time(store: Store) -> None:
    add(store, HEADS)
    add(store, AREA)
    assert [event.printer for event in events(store, "south", "west")] == ["south"]
    with store.transaction() as session:
        assert session.events.holding([]) == []
        assert [event.printer for event in session.events.holding(since=NOON)] == ["north"]
        assert session.events.holding(since=NOON + timedelta(microseconds=1)) == []


def test_a_source_is_taken_once_and_an_event_without_one_every_time(store: Store) -> None:
    assert [add(store, AREA, "a:2"), add(store, AREA, "a:2"), add(store, AREA, "a:3")] == [1, None, 2]
    assert [add(store, AREA), add(store, AREA)] == [3, 4]


def test_sites_that_share_a_store_have_their_own_events_and_sources(store: Store, path: Path) -> None:
    other = Store(path, "attic")
    assert [add(store, AREA, "a:2"), add(other, AREA, "a:2")] == [1, 1]
    assert undo(other, 1)
    assert len(events(store)) == 1
    assert events(other) == []
    other.close()


def test_an_undone_event_no_longer_counts_and_stays_as_it_was(store: Store, path: Path) -> None:
    add(store, HEADS)
    before = rows(path, "SELECT * FROM event")
    assert undo(store, 1)
    assert events(store) == []
    assert rows(path, "SELECT * FROM event WHERE seq = 1") == before
    assert rows(path, "SELECT kind, undoes_seq, told_by, facts FROM event WHERE seq = 2") == [
        ("undo", 1, "Ben", '{"why": "told twice"}')
    ]


def test_an_event_is_undone_once_and_a_counter_entry_never(store: Store) -> None:
    add(store, HEADS)
    assert [undo(store, 1), undo(store, 1), undo(store, 2), undo(store, 9)] == [True, False, False, False]
    assert add(store, HEADS) == 3
    assert [event.seq for event in events(store)] == [3]


def test_the_line_of_an_undone_event_is_not_taken_again(store: Store) -> None:
    add(store, AREA, "a:2")
    undo(store, 1)
    assert add(store, AREA, "a:2") is None
    assert events(store) == []


def test_the_view_lists_undone_events_with_who_and_why(store: Store, path: Path) -> None:
    add(store, HEADS)
    add(store, AREA)
    undo(store, 1)
    undoing = Undoing("Ben", "told twice", NOON + 2 * HOUR)
    session = ReadSession(path, SITE)
    assert session.events.recorded() == [
        RecordedEvent(with_seq(AREA, 2), NOON + HOUR),
        RecordedEvent(with_seq(HEADS, 1), NOON + HOUR, undoing),
    ]
    assert [each.event.seq for each in session.events.recorded(["north"], NOON)] == [1]


def test_a_store_that_is_not_there_yet_has_no_events(path: Path) -> None:
    assert ReadSession(path, SITE).events.recorded() == []
    assert not path.exists()


def test_events_of_a_unit_that_breaks_are_not_kept(store: Store) -> None:
    with pytest.raises(RuntimeError, match="broke"), store.transaction() as session:  # noqa: PT012
        session.events.add(HEADS, "a:2", NOON)
        raise RuntimeError("broke")
    assert events(store) == []
    assert add(store, HEADS, "a:2") == 1
