"""The ladder of the trade: which steps fit what the figures point to, cheapest and safest first.

Common practice, no published source. Findings come as the JSON contract has them, fresh or from the records. Looking
comes before mending: what is wrong with the reading or the sheet must never be written into the curves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from enum import IntEnum
from itertools import combinations
from typing import Any

from sentinel.core.said import Quantity, Sentence, Unit, said

Told = Mapping[str, Any]


class Rung(IntEnum):
    """In the order of the ladder; from `RECALIBRATE` on something is changed."""

    STOCK = 1
    DRY = 2
    MODE = 3
    READ = 4
    COMPARE = 5
    NOZZLES = 6
    PRINT = 7
    ALIGN = 8
    RECALIBRATE = 9
    LIMITS = 10
    PROFILE = 11
    SERVICE = 12


WORDS: Mapping[Rung, Sentence] = {
    Rung.STOCK: said("Look which stock was printed and which is set at the printer."),
    Rung.DRY: said("Make sure that the chart was dry when it was read: wet and dry ink differ."),
    Rung.MODE: said("Read the same sheet in the measurement mode of its target (M0, M1 or M2)."),
    Rung.READ: said("Read the same sheet again: white tile read, aperture clean, sheet flat and the right way round."),
    Rung.COMPARE: said(
        "Read a sheet of another stock with the same instrument, or this one with another instrument. Where "
        "it is the instrument that strays, have it certified."
    ),
    Rung.NOZZLES: said(
        "Print a nozzle check. Where lines are missing, clean as the maker's manual says and check again."
    ),
    Rung.PRINT: said(
        "Print the chart again on the same stock, let it dry, measure it, and save the file in the drop folder."
    ),
    Rung.ALIGN: said("See to head alignment and paper feed, as the maker's manual says, and print the chart again."),
    Rung.RECALIBRATE: said("Recalibrate. After that a check must pass."),
    Rung.LIMITS: said("Redo ink limits and linearisation. After that a check must pass."),
    Rung.PROFILE: said("Make a new profile. After that a check must pass."),
    Rung.SERVICE: said("Call the maker's service."),
}

CONFIRMING = (Rung.STOCK, Rung.DRY, Rung.READ, Rung.NOZZLES, Rung.PRINT)
"""What tells a real failure from a doubtful reading, and comes before anything is changed."""

_UNKNOWN = (*CONFIRMING, Rung.ALIGN)

LOOKING: Mapping[str, tuple[Rung, ...]] = {
    "wrong-substrate": (Rung.STOCK, Rung.PRINT),
    "patch-order": (Rung.READ,),
    "possibly-not-dry": (Rung.DRY, Rung.READ),
    "measurement-mode": (Rung.MODE,),
    "measurement-scale": (Rung.READ, Rung.COMPARE),
    "outlying-patches": (Rung.READ, Rung.NOZZLES, Rung.PRINT, Rung.ALIGN),
    "solid-off-aim": (Rung.READ, Rung.NOZZLES, Rung.PRINT),
    "tone-shift": (Rung.READ, Rung.NOZZLES, Rung.PRINT, Rung.ALIGN),
    "substrate-shade": (Rung.STOCK, Rung.READ, Rung.COMPARE, Rung.PRINT),
    "unexplained": _UNKNOWN,
}
"""By cause; the first is the next step."""

FORBIDDING = frozenset(
    {
        "wrong-substrate",
        "patch-order",
        "possibly-not-dry",
        "measurement-mode",
        "measurement-scale",
        "outlying-patches",
    }
)
"""While one of these is plausible, nothing is changed at the printer."""

PLAUSIBLE = 0.05
CERTAIN = 0.9
"""What the causes told must reach together, as `core.diagnosis.findings.answer` has it."""

_ALL_REMEDIES = frozenset({Rung.RECALIBRATE, Rung.LIMITS, Rung.PROFILE, Rung.SERVICE})

REMEDIES: Mapping[str, frozenset[Rung]] = {
    "solid-off-aim": _ALL_REMEDIES,
    "tone-shift": _ALL_REMEDIES,
    "substrate-shade": frozenset({Rung.PROFILE}),
    "unexplained": frozenset({Rung.SERVICE}),
}

APART: Mapping[frozenset[str], Sentence] = {
    frozenset(pair): words
    for words, *pairs in (
        (
            said(
                "Read the white tile, then a sheet of another stock with the same instrument: where that is "
                "off alike, it "
                "is the instrument, else the paper."
            ),
            ("measurement-scale", "substrate-shade"),
        ),
        (
            said(
                "Read the same sheet again some hours later: ink that was wet has changed by then, stronger "
                "ink has not."
            ),
            ("possibly-not-dry", "solid-off-aim"),
            ("possibly-not-dry", "tone-shift"),
        ),
        (
            said("Read the same sheet in the measurement mode of its target: what goes away was the mode."),
            ("measurement-mode", "substrate-shade"),
            ("measurement-mode", "measurement-scale"),
        ),
        (
            said(
                "Look at the label of the roll or box: another name is another stock, the same name another "
                "shade of it."
            ),
            ("wrong-substrate", "substrate-shade"),
        ),
        (
            said(
                "Look at the label of the roll or box: if it is the right stock, read the white tile and the "
                "sheet again."
            ),
            ("wrong-substrate", "measurement-scale"),
            ("wrong-substrate", "measurement-mode"),
        ),
        (
            said(
                "Look at these patches on the sheet, then read it again: a scratch or missing lines can be "
                "seen and stay "
                "where they are, a slip of the reading goes away."
            ),
            ("outlying-patches", "solid-off-aim"),
            ("outlying-patches", "tone-shift"),
            ("outlying-patches", "unexplained"),
        ),
        (
            said("Read the sheet again from its first row, the right way round: another order of patches goes away."),
            ("patch-order", "unexplained"),
            ("patch-order", "wrong-substrate"),
        ),
    )
    for pair in pairs
}
"""What decides between two causes whose numbers are alike."""


DRY_AFTER = said("Make sure that the chart was dry when it was read ({span} after printing): wet and dry ink differ.")


def worded(rungs: Iterable[Rung], drying_hours: float | None) -> list[Sentence]:
    """Sentences in the order of the ladder, each once."""
    words = dict(WORDS)
    if drying_hours:
        words[Rung.DRY] = DRY_AFTER.format(span=Quantity(drying_hours, Unit.HOUR))
    return [words[rung] for rung in sorted(set(rungs))]


def next_step(cause: str, drying_hours: float | None) -> Sentence:
    """What is done first about a cause; it changes nothing."""
    return worded(_looking(cause)[:1], drying_hours)[0]


def looking(answer: Sequence[Told], mending: Iterable[Rung]) -> set[Rung]:
    """The steps that fit an answer; all that confirm a failure where none is given, or before any `mending`."""
    fitting = {rung for each in answer for rung in _looking(each["cause"])}
    return fitting | set(CONFIRMING) if mending or not answer else fitting


def mending(answer: Sequence[Told], diagnosis: Iterable[Told], *, repeated: bool) -> set[Rung]:
    """What may be changed at the printer, where nothing else helps: only what every cause of the answer asks for.

    Nothing on one reading, without an answer, or while the reading or the sheet may be at fault: `diagnosis` is the
    whole list, with what the answer leaves out.
    """
    doubtful = sum(each["confidence"] for each in diagnosis if each["cause"] in FORBIDDING)
    if not repeated or not answer or doubtful >= PLAUSIBLE or forbidding(answer):
        return set()
    common = frozenset.intersection(*(REMEDIES.get(each["cause"], frozenset()) for each in answer))
    curable = all(each["recalibration_helps"] for each in answer)
    return set(common if curable else common - {Rung.RECALIBRATE})


def answered(diagnosis: Iterable[Told]) -> list[Told]:
    """The causes that together are nearly certain, the likeliest first; all there are where they do not get so far."""
    told: list[Told] = []
    for finding in diagnosis:
        told.append(finding)
        if sum(each["confidence"] for each in told) >= CERTAIN:
            break
    return told


def forbidding(answer: Iterable[Told]) -> list[str]:
    """The causes of an answer that forbid to change anything, in its order."""
    return list(dict.fromkeys(each["cause"] for each in answer if each["cause"] in FORBIDDING))


def telling_apart(answer: Iterable[Told]) -> list[Sentence]:
    """What decides between the causes of an answer, where that is known."""
    causes = dict.fromkeys(each["cause"] for each in answer)
    known = (APART.get(frozenset(pair)) for pair in combinations(causes, 2))
    return list(dict.fromkeys(words for words in known if words))


def _looking(cause: str) -> tuple[Rung, ...]:
    return LOOKING.get(cause, _UNKNOWN)
