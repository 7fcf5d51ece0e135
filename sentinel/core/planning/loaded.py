"""Which rolls a printer has, and what is left of them, as events tell it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from sentinel.core.events import Event, EventKind
from sentinel.core.planning.room import Roll


def rolls_told(events: Iterable[Event], now: datetime) -> tuple[Roll, ...]:
    """The last roll of each stock on one printer, in the order in which they were loaded: the last is the one on it.

    `events` are those of that printer, in any order. What was printed on a stock after its roll was loaded is taken
    off its length, over the whole width of the roll; printing of which no stock is told was on the roll then loaded.
    The length is None where nobody told it, and where something was printed and the width is not known.
    """
    rolls: dict[str, Event] = {}
    printed: dict[str, float] = {}
    for event in sorted((event for event in events if event.at <= now), key=lambda event: (event.at, event.seq)):
        stock = event.substrate or next(reversed(rolls), None)
        if event.kind is EventKind.ROLL_LOADED and stock is not None:
            rolls.pop(stock, None)  # so that it stands last
            rolls[stock], printed[stock] = event, 0.0
        elif event.kind is EventKind.PRINTED_AREA and stock in rolls:
            printed[stock] += float(event.facts["square_metres"])
    return tuple(_roll(stock, event, printed[stock]) for stock, event in rolls.items())


def _roll(stock: str, event: Event, square_metres: float) -> Roll:
    inches = event.facts.get("core_inches")
    return Roll(stock=stock, metres_left=_left(event, square_metres), core=core_words(inches))


def _left(event: Event, square_metres: float) -> float | None:
    metres, width_mm = event.facts.get("metres"), event.facts.get("width_mm")
    if metres is None or not square_metres:
        return metres
    return max(0.0, metres - square_metres / (width_mm / 1000)) if width_mm else None


def core_words(inches: float | None) -> str | None:
    """What a roll is wound on, as people call it."""
    return f"{inches:g} inch" if inches else None
