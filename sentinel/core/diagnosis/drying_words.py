"""What was learnt of how a stock dries, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sentinel.core.diagnosis.drying import GREY_OF_CHANNELS, SCALE_OF_CHANNEL, DryingBehaviour
from sentinel.core.message import Message, Quantity, UnitOfMeasure, msg

MOVEMENTS: Mapping[tuple[str, bool], Message] = {
    ("strength", True): msg("ink {of} gains {size:.1f} ΔE00"),
    ("strength", False): msg("ink {of} loses {size:.1f} ΔE00"),
    ("tone", True): msg("the tones of ink {of} get heavier by {size:.1f} ΔE00"),
    ("tone", False): msg("the tones of ink {of} get lighter by {size:.1f} ΔE00"),
    ("channel", True): msg("channel {of} gains {size:.1f} ΔE00"),
    ("channel", False): msg("channel {of} loses {size:.1f} ΔE00"),
    ("density", True): msg("all inks gain {size:.1f} ΔE00"),
    ("density", False): msg("all inks lose {size:.1f} ΔE00"),
    ("surface", True): msg("dark patches get darker by {size:.1f} ΔE00"),
    ("surface", False): msg("dark patches get lighter by {size:.1f} ΔE00"),
    ("paper", True): msg("the bare stock moves by {size:.1f} ΔE00"),
    ("paper", False): msg("the bare stock moves by {size:.1f} ΔE00"),
}
"""By what moves, and whether there is more of it when it is dry."""

GREYS = msg("the greys gain {size:.1f} ΔE00"), msg("the greys lose {size:.1f} ΔE00")

DRIES = msg(
    "{stock} on {printer}: {movement} between {first} and {last} after printing; {steady}, from {count} pair",
    "{stock} on {printer}: {movement} between {first} and {last} after printing; {steady}, from {count} pairs",
)
STAYS = msg(
    "{stock} on {printer}: nothing surely moves between {first} and {last} after printing, from {count} pair",
    "{stock} on {printer}: nothing surely moves between {first} and {last} after printing, from {count} pairs",
)
STEADY_AFTER = msg("steady after about {middle} ({low} to {high})")
STEADY_UNKNOWN = msg("when it is steady is not known yet")
TOO_SHORT = msg(
    "{stock} on {printer}: the settings call it dry after {told}, which is shorter than it takes here: let its charts "
    "dry for about {middle}"
)


def drying_words(behaviour: DryingBehaviour, stock: str, printer: str, told_hours: float | None) -> tuple[Message, ...]:
    """What was learnt of a printing condition in a sentence, and advice where its drying time in the settings is surely
    too short; nothing where no sheet of its own was read twice."""
    if not behaviour.pairs:
        return ()
    first, last = _hours(behaviour.first), _hours(behaviour.last)
    place: dict[str, Any] = {"stock": stock, "printer": printer}
    if not behaviour.moved:
        return (STAYS.format(**place, first=first, last=last, count=behaviour.pairs),)
    known = behaviour.steady_known
    steady = STEADY_UNKNOWN
    if known is not None:
        low, middle, high = map(_hours, known)
        steady = STEADY_AFTER.format(low=low, middle=middle, high=high)
    movement = _movement(behaviour)
    told = DRIES.format(**place, first=first, last=last, movement=movement, steady=steady, count=behaviour.pairs)
    if known is None or told_hours is None or told_hours >= known.low:
        return (told,)
    return told, TOO_SHORT.format(**place, told=_hours(told_hours), middle=_hours(known.middle))


def _movement(behaviour: DryingBehaviour) -> Message:
    """Of the part that moved most."""
    change, _ = behaviour.change(behaviour.first, behaviour.last)
    move, size = behaviour.moves[behaviour.main], float(change[behaviour.main])
    if move.of == GREY_OF_CHANNELS:
        return GREYS[size < 0].format(size=abs(size))
    kind = "channel" if move.kind in SCALE_OF_CHANNEL else move.kind
    return MOVEMENTS[kind, size > 0].format(of=move.of, size=abs(size))


def _hours(hours: float) -> Quantity:
    """To a tenth below ten."""
    return Quantity(round(hours, 1) if hours < TENTHS_BELOW else round(hours), UnitOfMeasure.HOUR)


TENTHS_BELOW = 10.0
