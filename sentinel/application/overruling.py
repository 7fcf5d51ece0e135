"""People overrule what calls for checks, and answer for it: they want one, or skip one. Nothing is current by that."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from sentinel.application.event_log import add_event
from sentinel.core.cases.kinds import CaseKind
from sentinel.core.cases.records import Silencing
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.policy import HousePolicy
from sentinel.errors import AdminError
from sentinel.ports import Opening


def want_check(house: HousePolicy, opening: Opening, place: str, texts: Mapping[str, str], now: datetime) -> Event:
    """Records that a check of this place is wanted, each week or on a day; `texts` are the facts of that, by name.

    Raises AdminError for a place or facts that are none.
    """
    return add_event(house, opening, _texts(EventKind.CHECK_WANTED, place, texts), now)


def skip_check(
    house: HousePolicy, opening: Opening, place: str, texts: Mapping[str, str], now: datetime
) -> tuple[Event, list[int]]:
    """Records that checks of this place are skipped until a day, and puts off the open cases that ask for nothing else.

    Returns the event, and the numbers of these cases. Raises AdminError for a place or facts that are none.
    """
    event = add_event(house, opening, _texts(EventKind.CHECK_SKIPPED, place, texts), now)
    until = house.calendar.begins(date.fromisoformat(event.facts["until"]))
    concerned = [str(name) for name in house.conditions if event.concerns(name)]
    put_off = []
    with opening() as store, store.transaction() as session:
        opened = session.cases.open()
        for name in sorted(concerned):
            concerns = opened.get(name, {})
            due = concerns.get(CaseKind.CHECK_DUE)
            if due is None or set(concerns) - {CaseKind.CHECK_DUE}:
                continue
            said = Silencing(False, str(event.told_by), event.facts["why"], due.severity, now, until)
            session.cases.silence(due.number, said)
            put_off.append(due.number)
    return event, put_off


def _texts(kind: EventKind, place: str, texts: Mapping[str, str]) -> dict[str, str]:
    """The place is a printer, or a printing condition by its printer, substrate and mode."""
    parts = [part.strip() for part in place.split("/")]
    if not 1 <= len(parts) <= 3 or not all(parts):
        raise AdminError(f"expected a printer or a printing condition such as north/satin-240, got {place!r}")
    return {"kind": kind.value, **dict(zip(("printer", "substrate", "mode"), parts, strict=False)), **texts}
