"""Failing and good files for a running service, and how far it is with its notices, asked of its store."""

from __future__ import annotations

from tests.support import cgats
from tests.support.process import drop
from tests.support.room import Room, rows


def drop_check(room: Room, place: str, name: str, shift: float = cgats.FAILING) -> None:
    """A file for a place, like no other by its name."""
    drop(room, f"{place}/{name}.txt", f"{cgats.text(shift)}# {name} {place}\n")


def failed_tries(room: Room) -> int:
    """How many tries have failed so far."""
    return int(str(rows(room.store, "SELECT count(*) FROM delivery WHERE arrived = 0")[0][0]))


def answers(room: Room) -> list[tuple[object, ...]]:
    """Why tries failed, and how many."""
    return rows(room.store, "SELECT answer, count(*) FROM delivery WHERE arrived = 0 GROUP BY answer")


def done(room: Room) -> bool:
    """Whether nothing waits."""
    return {"sent", "withdrawn"}.issuperset(room.statuses())
