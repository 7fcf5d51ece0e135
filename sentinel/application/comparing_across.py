"""The sheets of one chart, printed at several places across the web, held side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import reduce
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from sentinel.application.sources import recorded_check
from sentinel.core.colour.bands import SpectrumError
from sentinel.core.conditions.name import ConditionName
from sentinel.core.diagnosis.movement import What
from sentinel.core.diagnosis.width import (
    FAR_APART,
    FEWEST_PATCHES,
    Across,
    WebSheets,
    across_the_width,
    place_words,
)
from sentinel.core.measurement import Measurement
from sentinel.core.message import Message, msg
from sentinel.core.policy import ConditionPolicy, HousePolicy
from sentinel.core.scoring.agreement import comparable
from sentinel.core.scoring.groups import groups, named_inks
from sentinel.core.scoring.matching import Match, match
from sentinel.core.verdict import Unscored
from sentinel.errors import OperatorError

if TYPE_CHECKING:
    from sentinel.ports import ReadSession

HOURS_APART = 4.0
"""Sheets read so many hours apart have dried for another time (common practice, no published source)."""


@dataclass(frozen=True, slots=True)
class NotHeldAcross:
    """Why the sheets must not or cannot be compared; `place` is the number, from 0, of the sheet that does not fit
    the first one, where it is one of them."""

    why: Message
    place: int | None = None


@dataclass(frozen=True, slots=True)
class HeldAcross:
    """What differs, and what speaks for a simpler cause than the width. `technology` is the printer's, where known."""

    found: Across
    doubts: tuple[Message, ...]
    technology: str | None
    drying_hours: float | None


def compare_across(
    readings: Sequence[Measurement], policy: ConditionPolicy | None = None
) -> HeldAcross | NotHeldAcross:
    """Two to nine readings, from left to right; `policy` is that of their printing condition, where it is known.

    Raises ValueError for another number.
    """
    if policy is not None and policy.obstacles:
        return NotHeldAcross(policy.obstacles[0].message)
    pairs = []
    for place, other in enumerate(readings[1:], 1):
        try:
            comparable(readings[0].condition, other.condition, unknown_m_scored=True)
            pairs.append(match(readings[0], other).settled)
        except (Unscored, SpectrumError) as refusal:
            why = refusal.reason.message if isinstance(refusal, Unscored) else refusal.sentence
            return NotHeldAcross(why, place)
    if len({each.by for each in pairs}) > 1:
        return NotHeldAcross(TOLD_ALIKE)
    sheets = _shared(pairs, policy)
    if sheets.lab.shape[1] < FEWEST_PATCHES:
        return NotHeldAcross(TOO_FEW.format(least=FEWEST_PATCHES, patches=sheets.lab.shape[1]))
    for one, other_one in combinations(range(len(readings)), 2):
        if np.array_equal(sheets.lab[one], sheets.lab[other_one]):
            places = [place_words(place, len(readings)) for place in (one, other_one)]
            return NotHeldAcross(SAME_READING.format(first=places[0], second=places[1]))
    technology = policy.facts.technology if policy else None
    found = across_the_width(sheets, technology)
    return HeldAcross(found, _doubts(readings, found), technology, policy.facts.drying_hours if policy else None)


def policy_of_checks(house: HousePolicy, records: ReadSession, checks: Sequence[str]) -> ConditionPolicy | None:
    """That of the printing condition of recorded checks, by their numbers; None where the settings have it no more.

    Raises AdminError for a check that is not on record, OperatorError for those of several conditions.
    """
    conditions = [recorded_check(records, int(number)).condition for number in checks]
    if len(set(conditions)) > 1:
        found = ", ".join(dict.fromkeys(conditions))
        raise OperatorError(f"expected checks of one printing condition, got those of {found}")
    name = ConditionName.parse(conditions[0])
    return None if name is None else house.conditions.get(name)


TOLD_ALIKE = msg("expected sheets whose patches are all told in one way, by device values, names or ids")
TOO_FEW = msg("expected {least} patches or more that all sheets share, got {patches}")
SAME_READING = msg("expected a reading of each place, got the same values for {first} and {second}: one reading twice")


def _shared(pairs: Sequence[Match], policy: ConditionPolicy | None) -> WebSheets:
    """The patches that all sheets hold, in the order of the first."""
    rows = reduce(np.intersect1d, [each.rows for each in pairs])
    at = [np.searchsorted(each.rows, rows) for each in pairs]  # a match is in the order of the first
    first = pairs[0]
    device, lab = first.device[at[0]], first.aim[at[0]]
    sheets = np.stack([lab, *(each.lab[places] for each, places in zip(pairs, at, strict=True))])
    known = np.asarray(~np.isnan(sheets).any(axis=(0, 2)))
    device, sheets = device[known], sheets[:, known]
    inks = named_inks(first.inks, policy.scoring.inks.inks if policy else ())
    bare = groups(first.inks, device, sheets[0]).get("paper", np.zeros(len(device), dtype=bool))
    in_inks = set(inks) not in (set(), {"R", "G", "B"}) and not np.isnan(device).any()
    return WebSheets(inks, device, bare, sheets, in_inks)


def _doubts(readings: Sequence[Measurement], found: Across) -> tuple[Message, ...]:
    """What the files and the sheets themselves show of simpler causes."""
    doubts: list[Message] = []
    first = readings[0]
    if any(each.read_with.is_other_than(first.read_with) for each in readings[1:]):
        doubts.append(TWO_INSTRUMENTS)
    if any(each.condition.m is None for each in readings):
        doubts.append(MODE_UNTOLD)
    times = [each.created.at for each in readings if each.created and each.created.at]
    if len({each.tzinfo is None for each in times}) == 1:
        apart = (max(times) - min(times)) / timedelta(hours=1)
        if apart > HOURS_APART:
            doubts.append(READ_APART.format(hours=apart))
    if found.largest_mean > FAR_APART:
        doubts.append(TOO_FAR.format(mean=found.largest_mean))
    if any(each.beyond and each.movement.part.what is What.PAPER for each in found.parts):
        doubts.append(PAPER_DIFFERS)
    return tuple(doubts)


TWO_INSTRUMENTS = msg(
    "The sheets were read with several instruments, as the files say: instruments differ among themselves. Read all "
    "sheets with one of them."
)
MODE_UNTOLD = msg("Not every file tells its measurement mode (M0, M1 or M2): another mode looks like another stock.")
READ_APART = msg("The sheets were read {hours:.0f} h apart: what was not dry has changed in between.")
TOO_FAR = msg(
    "The sheets differ by a mean of up to {mean:.1f} ΔE00, more than one printer makes of one print: another order "
    "of patches, another chart or stock is likelier than the width."
)
PAPER_DIFFERS = msg(
    "The bare stock differs, and all that lies on it moves along: another roll or lot, the end of a roll, or the "
    "reading, is likelier than the printer."
)
