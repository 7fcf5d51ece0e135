"""Events as a table, in a line and as JSON; and why a file of them was refused."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.core.events import Event, RecordedEvent


def events_table(recorded: Sequence[RecordedEvent], zone: ZoneInfo) -> str:
    """One line an event, with its number first."""
    rows = [
        (
            each.event.seq,
            _time(each.event.at, zone),
            each.event.kind.value,
            _place(each.event),
            _facts(each.event.facts),
            each.event.told_by or "",
            f"undone by {each.undoing.by}: {each.undoing.why}" if each.undoing else "",
        )
        for each in recorded
    ]
    headers = ("event", "at", "kind", "printer", "facts", "told by", "standing")
    return tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)


def event_json(recorded: RecordedEvent) -> dict[str, Any]:
    """All of it. Times are UTC."""
    event, undoing = recorded.event, recorded.undoing
    return {
        "schema": "sentinel.event/1",
        "event": event.seq,
        "kind": event.kind.value,
        "at": event.at.isoformat(),
        "printer": event.printer,
        "substrate": event.substrate,
        "mode": event.mode,
        "facts": dict(event.facts),
        "by": event.told_by,
        "recorded_at": recorded.recorded_at.isoformat(),
        "undone": {"by": undoing.by, "why": undoing.why, "at": undoing.at.isoformat()} if undoing else None,
    }


def event_line(event: Event, zone: ZoneInfo) -> str:
    """The event in one line, with its number."""
    facts = f" ({_facts(event.facts)})" if event.facts else ""
    return f"event {event.seq}: {event.kind} at {_time(event.at, zone)} on {_place(event)}{facts}"


def _time(at: datetime, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M}"


def _place(event: Event) -> str:
    substrate = event.substrate or ("*" if event.mode else None)
    return "/".join(filter(None, (event.printer, substrate, event.mode)))


def _facts(facts: Mapping[str, Any]) -> str:
    return ", ".join(
        f"{name}={value:.10g}" if isinstance(value, float) else f"{name}={value}"
        for name, value in sorted(facts.items())
    )
