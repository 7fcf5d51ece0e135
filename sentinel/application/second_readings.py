"""Sheets that were read twice: what that tells of how a stock dries, and of the findings of either reading.

Derived from the records whenever it is asked for. Light: numpy is loaded where there is a second reading.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

from sentinel.core.conditions.checks import ReadingOnRecord, RecordedCheck
from sentinel.core.conditions.events import ANOTHER_PRINT, Event, EventKind, RecordedEvent
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.told_causes import SeenBy, told_causes
from sentinel.core.message import Message
from sentinel.core.policy import HousePolicy
from sentinel.core.verdict import Verdict
from sentinel.ports import ReadSession

if TYPE_CHECKING:
    from sentinel.core.diagnosis.drying import DryingBehaviour
    from sentinel.core.diagnosis.reading_pairs import ReadTwice
    from sentinel.core.diagnosis.weighing_again import WeighedAgain

HOUR = timedelta(hours=1)

LONGEST_DRYING = timedelta(days=14)
"""A chart printed earlier is hardly the one that was read: people forget to tell of the next."""

LEARNT_FROM = timedelta(days=365)
"""Inks and stocks are made otherwise by then."""

MOST_PAIRS = 16
"""Those of the condition first, then of its stock, the newest first."""

MOST_PRINTS = 20 * MOST_PAIRS
"""Prints of other conditions that are looked at: few sheets are read twice."""


def print_read(events: Iterable[Event], name: ConditionName, at: datetime) -> Event | None:
    """The print of a condition that was read at a moment: the last one before that was told of; None where none was, or
    long ago."""
    told = (each for each in events if each.kind is EventKind.CHART_PRINTED and each.concerns(name))
    last = max((each for each in told if each.at < at), key=lambda each: (each.at, each.seq), default=None)
    return None if last is None or at - last.at > LONGEST_DRYING else last


# --- how a stock dries ------------------------------------------------------------------------------------------------


class _Candidate(NamedTuple):
    """Two readings in a row of one print, and how many hours after it."""

    name: ConditionName
    first: ReadingOnRecord
    second: ReadingOnRecord
    hours: tuple[float, float]


def sheets_read_twice(
    records: ReadSession, house: HousePolicy, name: ConditionName, known: datetime
) -> Sequence[ReadTwice]:
    """What tells how this condition dries, as it was on record at the moment `known`: sheets of it and of others with
    the same ink technology that one instrument read twice, at other hours after the same print."""
    policies = house.conditions
    peers = [each for each, policy in policies.items() if policy.facts.technology == policies[name].facts.technology]
    since = known - LEARNT_FROM
    recorded = records.events.recorded({each.printer for each in peers}, since, [EventKind.CHART_PRINTED])
    prints = _looked_at([each.event for each in recorded if was_on_record(each, known)], name)
    printed = {(each.printer, each.substrate) for each in prints}
    read = [each for each in peers if {(each.printer, each.substrate), (each.printer, None)} & printed]
    if not read:
        return ()
    readings = records.checks.readings([str(each) for each in read], min(each.at for each in prints), known)
    found = [pair for each in read for pair in _in_pairs(each, readings.get(str(each), ()), prints)]
    return _patches(records, sorted(found, key=lambda pair: _nearness(pair, name), reverse=True)[:MOST_PAIRS])


def _looked_at(prints: Sequence[Event], name: ConditionName) -> list[Event]:
    """Those of the condition, and the newest of others: a house prints thousands a year."""
    others = [each for each in prints if not each.concerns(name)]
    return [*(each for each in prints if each.concerns(name)), *others[-MOST_PRINTS:]]


def was_on_record(each: RecordedEvent, known: datetime) -> bool:
    """Whether an event was told by then, and not taken back by then."""
    return each.recorded_at <= known and (each.undoing is None or each.undoing.at > known)


def _in_pairs(
    name: ConditionName, readings: Iterable[ReadingOnRecord], prints: Sequence[Event]
) -> Iterator[_Candidate]:
    own = [each for each in prints if each.concerns(name)]
    for first, second in pairwise(readings) if own else ():
        read = print_read(own, name, first.measured_at)
        if read is not None and read == print_read(own, name, second.measured_at) and first.read_as == second.read_as:
            hours = ((first.measured_at - read.at) / HOUR, (second.measured_at - read.at) / HOUR)
            yield _Candidate(name, first, second, hours)


def _nearness(pair: _Candidate, name: ConditionName) -> tuple[bool, bool, datetime]:
    return pair.name == name, pair.name.substrate == name.substrate, pair.second.measured_at


def _patches(records: ReadSession, pairs: Sequence[_Candidate]) -> Sequence[ReadTwice]:
    from sentinel.core.diagnosis.reading_pairs import ReadTwice
    from sentinel.core.scoring.groups import named_inks

    kept = records.checks.patches({each.seq for pair in pairs for each in (pair.first, pair.second)})
    return [
        ReadTwice(
            condition=str(pair.name),
            substrate=pair.name.substrate,
            inks=named_inks(second.inks, second.reckoning.ink_names),
            ink_space=second.reckoning.ink_space,
            first=pair.hours[0],
            second=pair.hours[1],
            device=second.device,
            first_values=kept[pair.first.seq].values,
            second_values=second.values,
        )
        for pair in pairs
        if (second := kept[pair.second.seq]).inks
    ]


def drying_learnt(
    read_twice: Iterable[ReadTwice], name: ConditionName, drying_hours: float | None
) -> DryingBehaviour | None:
    """What these sheets tell of a condition; None where they tell nothing."""
    read_twice = list(read_twice)
    if not read_twice:
        return None
    from sentinel.core.diagnosis.drying import drying_behaviour
    from sentinel.core.diagnosis.reading_pairs import drying_pair

    pairs = [pair for each in read_twice if (pair := drying_pair(each)) is not None]
    return drying_behaviour(pairs, str(name), name.substrate, drying_hours)


def drying_known(
    records: ReadSession, house: HousePolicy, name: ConditionName, known: datetime
) -> DryingBehaviour | None:
    """How this condition dries, as far as the records tell at the moment `known`."""
    found = sheets_read_twice(records, house, name, known)
    return drying_learnt(found, name, house.conditions[name].facts.drying_hours)


Drying = Callable[[ReadSession, HousePolicy, ConditionName, datetime], "DryingBehaviour | None"]

# --- findings weighed again -------------------------------------------------------------------------------------------

TOLD_SAME, NOT_TOLD, TOLD_ANOTHER = 0.95, 0.5, 0.02
"""How likely a second reading is of the same sheet: after one print, where nobody told of any, and after another.
People forget to tell (common practice, no published source)."""

USUAL_DRYING = 12.0
"""Hours after which a print is taken to be dry where nobody said."""


@dataclass(frozen=True, slots=True)
class ReadAgain:
    """A check that was measured after another one with findings, and what the two tell together.

    `weighed` are the findings of the second where they are `of_second`, else those of the first: it is back within
    tolerance.
    """

    first: int
    second: int
    weighed: WeighedAgain
    of_second: bool

    def as_json(self) -> dict[str, Any]:
        """As commands print it."""
        second = self.weighed.second
        return {
            "first": self.first,
            "second": self.second,
            "outcome": second.outcome.value,
            "hours": round(second.hours, 2),
            "same_sheet": second.same_sheet,
            "findings_of": self.second if self.of_second else self.first,
            "findings": [
                {**{key: each[key] for key in ("cause", "ink", "sign")}, "confidence": round(each["confidence"], 4)}
                for each in self.weighed.findings
            ],
            "misread": round(self.weighed.misread, 4),
            "excluded": list(self.weighed.excluded),
            "sentence": str(self.weighed.sentence),
        }


def read_again(
    records: ReadSession, house: HousePolicy, seq: int, known: datetime, drying: Drying = drying_known
) -> ReadAgain | None:
    """What a check tells together with the one measured before it; None where it is no second reading: that one had no
    findings, is long ago or against another target, or people changed something and printed anew. `drying` is for who
    knows already how its condition dries."""
    check = records.checks.find(seq)
    name = None if check is None else ConditionName.parse(check.condition)
    if check is None or name is None or name not in house.conditions:
        return None
    first = records.checks.before(check)
    if first is None or not first.diagnosis or not _comparable(first, check):
        return None
    return _weighed(records, house, name, first, check, known, drying)


def _comparable(first: RecordedCheck, second: RecordedCheck) -> bool:
    return (
        first.target_hash == second.target_hash
        and first.verdict is not Verdict.PASS
        and second.measured_at - first.measured_at <= LONGEST_DRYING
    )


def _weighed(
    records: ReadSession,
    house: HousePolicy,
    name: ConditionName,
    first: RecordedCheck,
    check: RecordedCheck,
    known: datetime,
    drying: Drying,
) -> ReadAgain | None:
    from sentinel.core.diagnosis.weighing_again import Outcome, SecondReading, outcome, weigh_again

    found = outcome(first.metrics, check.metrics, within=check.verdict is Verdict.PASS or check.recovered)
    told = [
        each
        for each in records.events.recorded({name.printer}, first.measured_at - LONGEST_DRYING)
        if was_on_record(each, known)
    ]
    same = _same_sheet(told, name, first, check)
    events = (each.event for each in told)
    answered = any(
        each.kind in ANOTHER_PRINT and each.concerns(name) and first.measured_at < each.at <= check.measured_at
        for each in events
    )
    if found is None or (answered and same < TOLD_SAME):
        return None
    hours = (check.measured_at - first.measured_at) / HOUR
    second = SecondReading(
        outcome=found,
        hours=hours,
        same_sheet=same,
        dried=_dried(hours, house.conditions[name].facts.drying_hours, drying(records, house, name, known)),
        other_instrument=None not in (both := {first.instrument, check.instrument}) and len(both) == 2,
    )
    of_second = found is not Outcome.BACK and bool(check.diagnosis)
    findings = check.diagnosis if of_second else first.diagnosis
    return ReadAgain(first.seq, check.seq, weigh_again(findings, second), of_second)


def _same_sheet(
    told: Sequence[RecordedEvent], name: ConditionName, first: RecordedCheck, second: RecordedCheck
) -> float:
    """By what people told: of the prints, or that the sheet of the first was read again."""
    events = [each.event for each in told]
    before, after = (print_read(events, name, each.measured_at) for each in (first, second))
    if after is not None and after != before:
        return TOLD_ANOTHER
    cause = told_causes(told).get(first.seq)
    by_words = cause is not None and cause.seen_by in (SeenBy.SECOND_READING, SeenBy.DRYING)
    return TOLD_SAME if after is not None or by_words else NOT_TOLD


def _dried(hours: float, told: float | None, learnt: DryingBehaviour | None) -> float:
    """The share of what a wet chart is off by that goes in these hours: as learnt, else by the settings, which `told`
    after how many it is dry."""
    from sentinel.core.diagnosis.drying import gone_in_hours

    by_settings = gone_in_hours(hours, USUAL_DRYING if told is None else told)
    if learnt is None or not learnt.moved:
        return by_settings
    return (1 - learnt.trust) * by_settings + learnt.trust * learnt.gone_in(hours)


# --- both, of a printing condition ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SecondReadings:
    """What second readings tell of a printing condition: its last check beside the one before, and how it dries;
    `drying_words` are that in sentences, with advice on its drying time in the settings."""

    again: ReadAgain | None = None
    drying: DryingBehaviour | None = None
    drying_words: Sequence[Message] = ()

    @property
    def drying_json(self) -> dict[str, Any] | None:
        """How it dries, as commands print it; None where no sheet of it was read twice."""
        if self.drying is None or not self.drying.pairs:
            return None
        return {**self.drying.as_json(), "sentences": [str(each) for each in self.drying_words]}


NO_READINGS = SecondReadings()


def second_readings(
    records: ReadSession, house: HousePolicy, name: ConditionName, last: int | None, known: datetime
) -> SecondReadings:
    """Of a printing condition whose `last` check this is, by its number."""
    found = drying_known(records, house, name, known)
    again = None if last is None else read_again(records, house, last, known, lambda *_: found)
    if found is None:
        return SecondReadings(again)
    from sentinel.core.diagnosis.drying_words import drying_words

    facts = house.conditions[name].facts
    return SecondReadings(again, found, drying_words(found, facts.substrate, facts.printer, facts.drying_hours))
