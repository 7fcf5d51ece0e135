"""The same sheets read by two instruments: how they differ, and the correction between them, as information."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sentinel.core.colour.bands import SpectrumError
from sentinel.core.diagnosis.instruments import FEWEST, SAME_SHEET, InstrumentAgreement, PairedReading, agreement
from sentinel.core.measurement import InstrumentName, Measurement
from sentinel.core.message import Message, msg
from sentinel.core.scoring.agreement import comparable
from sentinel.core.scoring.groups import groups
from sentinel.core.scoring.matching import Match, match
from sentinel.core.verdict import Reason, Unscored


@dataclass(frozen=True, slots=True)
class NotPaired:
    """Why the readings must not or cannot be compared; `pair` is which pair, from 0, where it is one of them."""

    why: Message
    pair: int | None = None


@dataclass(frozen=True, slots=True)
class PairedInstruments:
    """What two instruments make of the same sheets; the names are None where no file tells them. `known` says whether
    the files tell that they are two."""

    first: str | None
    second: str | None
    known: bool
    found: InstrumentAgreement
    remarks: tuple[Reason, ...]


def compare_instruments(pairs: Sequence[tuple[Measurement, Measurement]]) -> PairedInstruments | NotPaired:
    """One pair of readings or more, each of one sheet by the first instrument and by the second."""
    firsts, seconds = ([pair[side].read_with for pair in pairs] for side in (0, 1))
    refusal = _not_two(firsts, seconds)
    if refusal is not None:
        return refusal
    read: list[PairedReading] = []
    remarks: tuple[Reason, ...] = ()
    for number, (first, second) in enumerate(pairs):
        try:
            remarks = comparable(first.condition, second.condition, unknown_m_scored=True) or remarks
            paired = _paired(match(first, second).settled)
        except (Unscored, SpectrumError) as fault:
            return NotPaired(fault.reason.message if isinstance(fault, Unscored) else fault.sentence, number)
        if len(paired.first) and np.array_equal(paired.first, paired.second):
            return NotPaired(ONE_READING, number)
        read.append(paired)
    count = sum(len(each.first) for each in read)
    if count < FEWEST:
        return NotPaired(TOO_FEW.format(least=FEWEST, patches=count))
    found = agreement(read)
    if found.one_sheet is False:
        return NotPaired(OTHER_SHEETS.format(left=found.correction.left, most=SAME_SHEET))
    told = [next((each.told for each in side if each.told), None) for side in (firsts, seconds)]
    known = any(one.is_other_than(other) for one, other in zip(firsts, seconds, strict=True))
    return PairedInstruments(told[0], told[1], known, found, remarks)


ONE_INSTRUMENT = msg("expected readings by two instruments, got both by {serial}")
SEVERAL_FIRST = msg("expected one instrument behind every first reading, got {one} and {other}")
SEVERAL_SECOND = msg("expected one instrument behind every second reading, got {one} and {other}")
ONE_READING = msg("expected one sheet read by two instruments, got the same values twice: one reading, not two")
TOO_FEW = msg("expected {least} patches or more that both instruments read, got {patches}")
OTHER_SHEETS = msg(
    "expected readings of the same sheets, which leave a mean of at most {most:.1f} ΔE00 once the difference of the "
    "instruments is taken out, got {left:.1f} ΔE00: other sheets, another order of patches, or a sheet still drying"
)


def _not_two(firsts: Sequence[InstrumentName], seconds: Sequence[InstrumentName]) -> NotPaired | None:
    for number, (one, other) in enumerate(zip(firsts, seconds, strict=True)):
        if other.is_other_than(one) is False:
            return NotPaired(ONE_INSTRUMENT.format(serial=one.told or ""), number)
    for side, words in ((firsts, SEVERAL_FIRST), (seconds, SEVERAL_SECOND)):
        for number, each in enumerate(side):
            if each.is_other_than(side[0]):
                return NotPaired(words.format(one=side[0].told or "", other=each.told or ""), number)
    return None


def _paired(pairs: Match) -> PairedReading:
    known = ~(np.isnan(pairs.aim) | np.isnan(pairs.lab)).any(axis=1)
    masks = groups(pairs.inks, pairs.device, pairs.aim)
    none = np.zeros(len(pairs), dtype=bool)
    paper, solids = (masks.get(name, none)[known] for name in ("paper", "solids"))
    return PairedReading(pairs.aim[known], pairs.lab[known], paper, solids)
