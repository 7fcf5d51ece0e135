"""How far the sheets of a printing condition move from one to the next, as it was known at a moment."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from sentinel.core.conditions.name import ConditionName
from sentinel.core.diagnosis.expectation import HEALTHY
from sentinel.core.diagnosis.sheet_pairs import SheetPair, learnt
from sentinel.core.inks.ordinary import OrdinaryMovement

if TYPE_CHECKING:
    from sentinel.core.conditions.checks import KeptPair
    from sentinel.core.conditions.told_causes import ToldCause
    from sentinel.core.policy import ConditionPolicy, HousePolicy
    from sentinel.ports import ReadSession

MOST_PAIRS = 60
"""The newest of the house that are learnt from."""
OF_OTHERS = 0.25
"""What a pair of another printer counts."""


def movement_known(
    records: ReadSession,
    house: HousePolicy,
    policy: ConditionPolicy,
    until: datetime,
    told: Mapping[int, ToldCause],
) -> OrdinaryMovement:
    """What is expected of the printing condition, and what pairs of sheets on record by then have taught beside it.

    `told` are the causes told by then, of checks by their number: a sheet with a fault tells nothing of how sheets
    move.
    """
    faulty = {check for check, each in told.items() if each.cause != HEALTHY}
    pairs = records.checks.sheet_pairs(until, MOST_PAIRS)
    return movement_from(house, policy, [pair for pair in pairs if not {pair.check, pair.before} & faulty])


def movement_from(house: HousePolicy, policy: ConditionPolicy, pairs: Iterable[KeptPair]) -> OrdinaryMovement:
    """From the pairs of all printers with the same expectation, those of this one counting more."""
    found = []
    for pair in pairs:
        name = ConditionName.parse(pair.condition)
        other = house.conditions.get(name) if name else None
        if name and other and other.movement == policy.movement:
            weight = 1.0 if name.printer == policy.name.printer else OF_OTHERS
            found.append((SheetPair.from_json(pair.differing), weight))
    return learnt(found, policy.movement)
