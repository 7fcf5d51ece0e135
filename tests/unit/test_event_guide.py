"""The admin's guide to events says what the code does."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sentinel.core.conditions.event_input import events_of
from sentinel.core.conditions.events import FACTS, OF_PRINTER, OF_STOCK, REQUIRED, EventKind
from tests.unit.core.conditions.test_event_texts import KNOWN

GUIDE = (Path(__file__).parents[2] / "config/README.md").read_text(encoding="utf-8")
SECTION = GUIDE.partition("\n## Events\n")[2].partition("\n## ")[0]
ROWS = {
    EventKind(kind): cells
    for cells in ([cell.strip() for cell in row.split("|")[1:-1]] for row in SECTION.splitlines() if row[:3] == "| `")
    for kind in re.findall("`([a-z-]+)`", cells[0])
}


def test_every_kind_has_a_row() -> None:
    assert set(ROWS) == set(EventKind)


@pytest.mark.parametrize("kind", EventKind)
def test_a_row_lists_the_facts_and_marks_the_required_ones(kind: EventKind) -> None:
    facts = ROWS[kind][1]
    assert set(re.findall("`([a-z_]+)`", facts)) == set(FACTS[kind])
    assert set(re.findall(r"\*\*`([a-z_]+)`\*\*", facts)) == REQUIRED.get(kind, frozenset())


@pytest.mark.parametrize("kind", EventKind)
def test_a_row_says_what_the_event_speaks_of(kind: EventKind) -> None:
    of = {"the printer": kind in OF_PRINTER, "one substrate": kind in OF_STOCK}
    expected = next((what for what, holds in of.items() if holds), "the printer, or a substrate or mode on it")
    assert ROWS[kind][-1] == expected


@pytest.mark.parametrize(("name", "fence", "events"), [("a.csv", "csv", 2), ("a.jsonl", "json", 1)])
def test_the_example_files_can_be_taken(name: str, fence: str, events: int) -> None:
    [example] = re.findall(rf"```{fence}\n(.*?)```", SECTION, flags=re.DOTALL)
    known = replace(KNOWN, now=datetime(2026, 11, 26, tzinfo=UTC))
    assert len(events_of(name, example.encode(), known, known.now)) == events
