"""What to do about a print that differs across the width: the simple causes first, then what one would look at.

All of it is common practice, no published source; the maker's manual comes first.
"""

from __future__ import annotations

from sentinel.core.message import Message, msg
from sentinel.render.remedies import CAUTIONS, RemedyStep, cautions, worded

IN_ORDER = msg(
    "Make sure that the sheets were read as what they are: mark each with its place and its upper edge, and read them "
    "again in that order."
)
ONE_STOCK = msg(
    "Make sure that all places were printed at once, on one roll or box, and not on the last metres of a roll."
)
ONE_INSTRUMENT = msg("Make sure that one instrument read all sheets, in one measurement mode, on one backing.")
AGAIN = msg(
    "Print the chart at all places once more: what stays at its place belongs to the printer, what wanders does not."
)

FEED = msg("Vacuum, feed pressure and pinch rollers at that place: does the stock lie flat, and at one height?")
HEADS = msg("Head height and head alignment, as the maker's manual says, with its own test print.")
HEATERS = msg("Heaters or curing across the width, as the printer shows them: is one zone colder, or a fan blocked?")
LAMPS = msg("The UV lamps at both turns of the carriage: hours and power, as the printer shows them.")
SUPPLY = msg("Nozzle check over the whole width, and with a wide solid whether ink runs short at one side.")

_BY_TECHNOLOGY = {"solvent": (HEATERS,), "latex": (HEATERS,), "uv": (LAMPS,)}


def excluded_first(drying_hours: float | None) -> list[Message]:
    """The simpler causes, cheapest first; nothing of it changes anything at the printer."""
    return [
        IN_ORDER,
        ONE_INSTRUMENT,
        *worded((RemedyStep.DRY, RemedyStep.READ), drying_hours),
        ONE_STOCK,
        *worded((RemedyStep.NOZZLES,), None),
        AGAIN,
    ]


def looked_at_then(technology: str | None) -> list[Message]:
    """What makes places differ, when the simple causes are out; of an unknown ink technology, of all."""
    own = (HEATERS, LAMPS) if technology is None else _BY_TECHNOLOGY.get(technology, ())
    return [FEED, *own, HEADS, SUPPLY]


def beware(technology: str | None) -> list[Message]:
    """The cautions of this ink technology; of all where it is not known."""
    return cautions(*([each for each in CAUTIONS if each != "always"] if technology is None else [technology]))
