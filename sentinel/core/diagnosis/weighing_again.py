"""Findings weighed again when a chart was read a second time: what that reading shows is a known fact about the first.

Simple Bayes on kept confidences. How likely each outcome is under each cause is common practice, no published source:
a print stays as it is on its sheet, wet ink moves on, a slip of the reading is seldom made twice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import Any

from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.findings import (
    CERTAIN,
    FORBIDS_RECALIBRATION,
    LEAST_TOLD,
    PLAUSIBLE,
    answered,
    is_curable,
)
from sentinel.core.message import Message, msg, span_of


class Outcome(StrEnum):
    """What a second reading came to beside the first. Codes of the JSON contract."""

    ALIKE = "alike"
    NEARER = "nearer"
    BACK = "back"
    APART = "apart"


SAME_FIGURES = 0.5
"""Readings of which no group's mean ΔE00 differs by more are alike: what two prints and two readings of a chart differ
by anyhow (common practice, no published source)."""


def outcome(before: Mapping[str, Any], now: Mapping[str, Any], *, within: bool) -> Outcome | None:
    """Of the metrics of a first and a second reading, by group both, the second `within` every limit or not; None where
    they share no group."""
    both = [(before[group]["de00_mean"], now[group]["de00_mean"]) for group in before if _has_mean(before, now, group)]
    if not both:
        return None
    if all(abs(one - other) <= SAME_FIGURES for one, other in both):
        return Outcome.ALIKE
    if within:
        return Outcome.BACK
    nearer = all(other - one <= SAME_FIGURES for one, other in both)
    return Outcome.NEARER if nearer else Outcome.APART


def _has_mean(before: Mapping[str, Any], now: Mapping[str, Any], group: str) -> bool:
    return "de00_mean" in before[group] and "de00_mean" in now.get(group, {})


@dataclass(frozen=True, slots=True)
class SecondReading:
    """What is known of a second reading, so many `hours` after the first.

    `same_sheet` is how likely it is of the same sheet; `dried` the share of what a wet chart is off by that goes in
    these hours; `other_instrument` whether another one read it.
    """

    outcome: Outcome
    hours: float
    same_sheet: float
    dried: float
    other_instrument: bool = False


_Row = tuple[float, float, float, float]
"""Of one cause, in the order of `Outcome`."""

_STAYS: _Row = (0.90, 0.03, 0.005, 0.065)
_STILL_WET: _Row = (0.88, 0.05, 0.01, 0.06)
_HALF_DRY: _Row = (0.06, 0.75, 0.10, 0.09)
_HAS_DRIED: _Row = (0.01, 0.10, 0.80, 0.09)
_UNKNOWN: _Row = (0.50, 0.15, 0.20, 0.15)
_SAME_SHEET: Mapping[str, _Row] = {
    Cause.PATCH_ORDER: (0.08, 0.12, 0.60, 0.20),
    Cause.OUTLYING: (0.55, 0.15, 0.22, 0.08),  # a scratch stays, a slip does not
    Cause.MODE: (0.55, 0.10, 0.28, 0.07),
    Cause.SCALE: (0.55, 0.12, 0.25, 0.08),
    Cause.UNEXPLAINED: _UNKNOWN,
}
"""What is not here stays on its sheet."""

_STAYS_AT_THE_PRINTER: _Row = (0.72, 0.10, 0.05, 0.13)
_OTHER_ROLL: _Row = (0.65, 0.08, 0.15, 0.12)
_WET_AS_WELL: _Row = (0.75, 0.10, 0.05, 0.10)
_DRY_OR_NOT: _Row = (0.25, 0.20, 0.45, 0.10)
_ANOTHER_SHEET: Mapping[str, _Row] = {
    Cause.PATCH_ORDER: (0.04, 0.12, 0.62, 0.22),
    Cause.OUTLYING: (0.10, 0.20, 0.55, 0.15),
    Cause.MODE: (0.60, 0.08, 0.25, 0.07),
    Cause.SCALE: (0.55, 0.12, 0.25, 0.08),
    Cause.SHADE: _OTHER_ROLL,
    Cause.WRONG_SUBSTRATE: _OTHER_ROLL,
    Cause.UNEXPLAINED: (0.40, 0.15, 0.25, 0.20),
}
_ANOTHER_INSTRUMENT: _Row = (0.05, 0.20, 0.60, 0.15)

MISREAD = 0.03
"""Of readings with findings, those with a slip that no cause names."""


def likelihood(cause: str, second: SecondReading) -> float:
    """How likely this second reading is where the first had this cause; cause codes of another program stay as they
    are on the sheet."""
    place = list(Outcome).index(second.outcome)
    same = _SAME_SHEET.get(cause, _STAYS)[place]
    other = _ANOTHER_SHEET.get(cause, _STAYS_AT_THE_PRINTER)[place]
    if cause == Cause.NOT_DRY:
        same, other = (
            _drying(place, second.dried, rows)
            for rows in ((_STILL_WET, _HALF_DRY, _HAS_DRIED), (_WET_AS_WELL, _DRY_OR_NOT, _DRY_OR_NOT))
        )
    elif cause in (Cause.SCALE, Cause.INSTRUMENT) and second.other_instrument:
        same = other = _ANOTHER_INSTRUMENT[place]
    return second.same_sheet * same + (1 - second.same_sheet) * other


def _drying(place: int, dried: float, rows: tuple[_Row, _Row, _Row]) -> float:
    """Between what is likely of a print where nothing, half and all of it has gone."""
    start, half, end = (row[place] for row in rows)
    return start + (half - start) * 2 * dried if dried < HALF else half + (end - half) * (2 * dried - 1)


HALF = 0.5


@dataclass(frozen=True, slots=True)
class WeighedAgain:
    """Findings in the form in which they are kept, best first, after a second reading.

    `misread` is how likely the reading had a slip that no cause names; `excluded` are causes that were plausible and
    are no more.
    """

    second: SecondReading
    findings: tuple[Mapping[str, Any], ...]
    misread: float
    excluded: tuple[str, ...]

    @property
    def was_wet(self) -> bool:
        """Whether it is likelier than not that the chart was not dry."""
        return any(each["cause"] == Cause.NOT_DRY and each["confidence"] >= LIKELY for each in self.findings)

    @property
    def was_misread(self) -> bool:
        """Whether it is likelier than not that the reading had a slip: one that no cause names, or of `OF_READING`; odd
        patches of a sheet that read right after all were one too."""
        healed = self.second.outcome is Outcome.BACK and self.second.same_sheet >= LIKELY
        causes = {*OF_READING, Cause.OUTLYING} if healed else OF_READING
        named: float = sum(each["confidence"] for each in self.findings if each["cause"] in causes)
        return self.misread + named >= LIKELY

    @property
    def sentence(self) -> Message:
        """What the second reading tells, in one line."""
        return _sentence(self)


LIKELY = 0.5


def weigh_again(first: Sequence[Mapping[str, Any]], second: SecondReading) -> WeighedAgain:
    """Findings of a reading, as they are kept, with a second one as a known fact. Those of no probability are left out.

    The facts hold of both readings alike, so that the findings of the second can be weighed by the first in the same
    way, where what they show is on both.
    """
    total = sum(each["confidence"] for each in first)
    weighed = [each["confidence"] / total * (1 - MISREAD) * likelihood(each["cause"], second) for each in first]
    slip = MISREAD * likelihood(Cause.PATCH_ORDER, second)  # as any slip: it is seldom made twice
    whole = sum(weighed) + slip
    # causes may be at work together: where their confidences add to more than 1, they do so still
    likely = [min(share / whole * total, 1.0) for share in weighed]
    found = sorted(zip(likely, first, strict=True), key=lambda each: -each[0])
    doubt = sum(likely_ for likely_, each in found if each["cause"] in FORBIDS_RECALIBRATION)
    misread = slip / whole
    findings = list(_answering([({**each, "confidence": share}, share) for share, each in found if share > LEAST_TOLD]))
    return WeighedAgain(
        second,
        tuple({**each, "recalibration_helps": _helps(each, doubt + misread)} for each in findings),
        misread,
        tuple(dict.fromkeys(_excluded(first, found))),
    )


def _answering(found: Sequence[tuple[dict[str, Any], float]]) -> Iterator[dict[str, Any]]:
    """Marked: the head of the list that holds enough, and whatever else is at work likelier than not."""
    held = 0.0
    for finding, share in found:
        yield {**finding, "answers": held < CERTAIN or share >= LIKELY}
        held += share


def _helps(finding: Mapping[str, Any], doubt: float) -> bool:
    return doubt < PLAUSIBLE and is_curable(finding["cause"], finding["sign"], finding["evidence"])


def _excluded(first: Sequence[Mapping[str, Any]], found: Sequence[tuple[float, Mapping[str, Any]]]) -> Iterator[str]:
    answers = [each["cause"] for each in answered(first)]
    for share, each in found:
        if share < PLAUSIBLE and (each["confidence"] >= PLAUSIBLE or each["cause"] in answers):
            yield each["cause"]


AGAIN = {
    "wet": msg("read again after {span}: it was not dry"),
    "still wet": msg("read again after {span}: nearer to the aim, it is still drying"),
    "misread": msg("read again after {span}, and within tolerance: the first reading was a slip"),
    Outcome.BACK: msg("read again after {span}: within tolerance"),
    Outcome.NEARER: msg("read again after {span}: nearer to the aim"),
    Outcome.APART: msg("read again after {span}, with other figures"),
    "not wet": msg("the same figures again after {span}: not a misreading, not wet"),
    Outcome.ALIKE: msg("the same figures again after {span}: not a misreading"),
}
ANOTHER = {
    "wet": msg("a second sheet after {span} was within tolerance: the first was most likely not dry"),
    "misread": msg("a second sheet after {span} was within tolerance: the first reading was most likely a slip"),
    Outcome.BACK: msg("a second sheet after {span} was within tolerance"),
    Outcome.NEARER: msg("a second sheet after {span} was nearer to the aim"),
    Outcome.APART: msg("a second sheet after {span}, with other figures"),
    Outcome.ALIKE: msg(
        "a second sheet with the same figures after {span}: not a misreading, not odd patches of one sheet"
    ),
}
"""What is told of a second reading of the same sheet, or of one that may be, and of a second sheet."""

OF_READING = frozenset({Cause.PATCH_ORDER, Cause.MODE, Cause.SCALE})


def _sentence(weighed: WeighedAgain) -> Message:
    second = weighed.second
    words = AGAIN if second.same_sheet >= LIKELY else ANOTHER
    told: str = second.outcome
    if second.outcome is Outcome.ALIKE and "not wet" in words and _is_dry(weighed):
        told = "not wet"
    elif second.outcome is Outcome.NEARER and "still wet" in words and weighed.was_wet:
        told = "still wet"
    elif second.outcome is Outcome.BACK and weighed.was_wet:
        told = "wet"
    elif second.outcome is Outcome.BACK and weighed.was_misread:
        told = "misread"
    return words[told].format(span=span_of(timedelta(hours=second.hours)))


def _is_dry(weighed: WeighedAgain) -> bool:
    """Whether it can be said that it was not wet: it had the time to dry, and nothing moved."""
    wet = sum(each["confidence"] for each in weighed.findings if each["cause"] == Cause.NOT_DRY)
    return weighed.second.dried >= LIKELY and wet < PLAUSIBLE
