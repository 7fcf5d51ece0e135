"""What a case says when it is told: typed, with a version, to the JSON in which the outbox keeps it and back.

It holds what is known of the case when it takes a step, nothing of how that is put into words. JSON without a version
is of version 1. Whoever changes the shape or the meaning of a payload raises its version and reads the earlier one too;
a payload that cannot be read is told all the same, in a plain letter (`sentinel.render.notices.letter`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, dataclass, field, fields
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from types import NoneType, UnionType
from typing import Any, ClassVar, Self, Union, get_args, get_origin, get_type_hints

from sentinel.core.message import ENGLISH, Message

ABSENT: Mapping[str, bool] = {"absent": True}
"""Of a field that is not kept while it is None."""


class PayloadError(ValueError):
    """A sentence: what was expected, what came, where."""


@dataclass(frozen=True, kw_only=True)
class KeptFacts:
    """Some facts and the JSON object of them; keys that no field is named after are left alone."""

    def as_json(self) -> dict[str, Any]:
        """Every field by its name, but for one that is `ABSENT`."""
        named = {each.name: (each, getattr(self, each.name)) for each in fields(self)}
        return {
            name: _plain(value)
            for name, (each, value) in named.items()
            if value is not None or "absent" not in each.metadata
        }

    @classmethod
    def from_json(cls, kept: Any, where: str = "facts") -> Self:
        """What `as_json` gave. Raises PayloadError."""
        if not isinstance(kept, Mapping):
            raise _unlike("an object", kept, where)
        hints = _hints(cls)
        return cls(
            **{
                each.name: _value(hints[each.name], kept[each.name], f"{where}.{each.name}")
                for each in fields(cls)
                if _is_there(each, kept, where)
            }
        )


@dataclass(frozen=True, kw_only=True)
class Payload(KeptFacts):
    """What a notice of one kind, or of several, tells."""

    version: ClassVar[int] = 1
    told_by: ClassVar[str] = ""
    """The key that tells it from the other payloads of a kind."""

    def as_json(self) -> dict[str, Any]:
        return {**super().as_json(), "version": self.version}

    @classmethod
    def from_json(cls, kept: Any, where: str = "facts") -> Self:
        if isinstance(kept, Mapping) and kept.get("version", 1) != cls.version:
            raise PayloadError(f"{where}: expected version {cls.version}, got {kept['version']!r}")
        return super().from_json(kept, where)


_hints: Callable[[type], Mapping[str, Any]] = cache(get_type_hints)
"""The annotations of a payload, which are text until somebody reads them."""


def _is_there(each: Field[Any], kept: Mapping[str, Any], where: str) -> bool:
    if each.name not in kept and each.default is MISSING and each.default_factory is MISSING:
        raise PayloadError(f"{where}: expected {each.name!r}, got none")
    return each.name in kept


def _plain(value: Any) -> Any:
    if isinstance(value, KeptFacts):
        return value.as_json()
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if isinstance(value, StrEnum):
        return value.value
    return value.isoformat() if isinstance(value, date) else value


def _value(wanted: Any, kept: Any, where: str) -> Any:
    origin, inner = get_origin(wanted), get_args(wanted)
    if origin in (Union, UnionType):
        [wanted] = (each for each in inner if each is not NoneType)
        return None if kept is None else _value(wanted, kept, where)
    if origin is tuple:
        if not isinstance(kept, list | tuple):
            raise _unlike("a list", kept, where)
        return tuple(_value(inner[0], each, f"{where}[{number}]") for number, each in enumerate(kept))
    if origin is Mapping:
        if not isinstance(kept, Mapping):
            raise _unlike("an object", kept, where)
        return {name: _value(inner[1], each, f"{where}.{name}") for name, each in kept.items()}
    return kept if wanted is Any else _single(wanted, kept, where)


def _single(wanted: Any, kept: Any, where: str) -> Any:
    if issubclass(wanted, KeptFacts):
        return wanted.from_json(kept, where)
    if issubclass(wanted, StrEnum | date):
        try:
            return wanted(kept) if issubclass(wanted, StrEnum) else wanted.fromisoformat(kept)
        except (TypeError, ValueError):
            raise _unlike(f"a {wanted.__name__.lower()}", kept, where) from None
    fits = isinstance(kept, (int, float) if wanted is float else wanted)
    if not fits or (isinstance(kept, bool) and wanted is not bool):
        raise _unlike(f"a {wanted.__name__}", kept, where)
    return kept


def _unlike(expected: str, got: Any, where: str) -> PayloadError:
    return PayloadError(f"{where}: expected {expected}, got {type(got).__name__}")


def kept_message(kept: Mapping[str, Any], name: str = "message") -> Message:
    """The message that is kept under this name, its pattern beside it; its English where another version made it.

    Raises PayloadError where there is none at all.
    """
    english = kept.get(name)
    if not isinstance(english, str):
        raise _unlike("a sentence", english, name)
    try:
        found = Message.from_json({**kept, "message": english})
        ENGLISH.text(found)
    except (ArithmeticError, AttributeError, IndexError, KeyError, TypeError, ValueError):
        return Message(english)
    return found


@dataclass(frozen=True, kw_only=True)
class ReasonFacts(KeptFacts):
    """A reason as it is kept. Its code may be one that this program no longer gives."""

    code: str
    message: Message

    def as_json(self) -> dict[str, Any]:
        return {"code": self.code, **self.message.as_json()}

    @classmethod
    def from_json(cls, kept: Any, where: str = "facts") -> Self:
        if not isinstance(kept, Mapping) or not isinstance(kept.get("code"), str):
            raise _unlike("a reason with its code", kept, where)
        return cls(code=kept["code"], message=kept_message(kept))


@dataclass(frozen=True, kw_only=True)
class CheckFacts(KeptFacts):
    """A check as it is on record: figures, limits, causes (`Finding.as_json`) and what moved most
    (`Movement.as_json`, None where it is not known) in the form of the JSON contract.

    `trend` and `worst` are what its picture is drawn from: the checks up to it, and the patches farthest off.
    """

    seq: int | None = field(default=None, metadata=ABSENT)
    sha256: str | None = field(default=None, metadata=ABSENT)
    table_no: int | None = field(default=None, metadata=ABSENT)
    file_name: str
    verdict: str | None = None
    reasons: tuple[ReasonFacts, ...]
    metrics: Mapping[str, Any]
    limits: Mapping[str, Any] | None = field(default=None, metadata=ABSENT)
    diagnosis: tuple[Mapping[str, Any], ...] | None = None
    moved: tuple[Mapping[str, Any], ...] | None = field(default=None, metadata=ABSENT)
    target: str
    patches: int | None = None
    matched: int
    m_condition: str | None
    measured_at: datetime
    trend: tuple[Mapping[str, Any], ...] | None = field(default=None, metadata=ABSENT)
    worst: tuple[Mapping[str, Any], ...] | None = field(default=None, metadata=ABSENT)

    @property
    def codes(self) -> frozenset[str]:
        """Of its reasons."""
        return frozenset(reason.code for reason in self.reasons)


@dataclass(frozen=True, kw_only=True)
class CheckBefore(KeptFacts):
    """The check that opened a case, or repeated it last: what it pointed to, and its figures."""

    diagnosis: tuple[Mapping[str, Any], ...] | None
    metrics: Mapping[str, Any] | None = field(default=None, metadata=ABSENT)
    measured_at: datetime | None = field(default=None, metadata=ABSENT)


@dataclass(frozen=True, kw_only=True)
class AgainFacts(KeptFacts):
    """What a second reading tells beside the one before it, check `first`: what it came to (a code of
    `weighing_again.Outcome`), so many `hours` later, by its `sentence` as `Message.as_json` makes it.

    `same_sheet` is how likely it was the same sheet; `was_wet` and `misread` what became likelier than not of the
    first; `excluded` the causes that were plausible and are no more. `diagnosis` are the findings of the first weighed
    again, None where those of the second were: its check has them.
    """

    first: int
    outcome: str
    hours: float
    same_sheet: float
    was_wet: bool
    misread: bool
    excluded: tuple[str, ...]
    sentence: Mapping[str, Any]
    diagnosis: tuple[Mapping[str, Any], ...] | None = field(default=None, metadata=ABSENT)

    @property
    def message(self) -> Message:
        """The sentence."""
        return kept_message(self.sentence)


@dataclass(frozen=True, kw_only=True)
class Act(KeptFacts):
    """What somebody did since a case was opened: the kind of an event, or `acknowledged`."""

    kind: str
    at: datetime
    by: str | None = None


@dataclass(frozen=True, kw_only=True)
class StandingFacts(KeptFacts):
    """Where the case of a printing condition stood when it was told (`core.cases.standing`), and what was done.

    `case` is None where nothing is open any more.
    """

    case: int | None = None
    since: datetime | None = None
    production: str
    next_step: str
    turn: str
    leading: str | None = None
    severity: str | None = None
    seen_by: str | None = None
    done: tuple[Act, ...] = ()


@dataclass(frozen=True, kw_only=True)
class VoidedFacts(KeptFacts):
    """Who took back the check that a case was about, and why."""

    by: str
    why: str


@dataclass(frozen=True, kw_only=True)
class DriftingFigure(KeptFacts):
    """A figure that has left its usual values, `side` `above` or `below`, since a check that others confirmed."""

    group: str
    metric: str
    side: str
    since: datetime


@dataclass(frozen=True, kw_only=True)
class ConditionFacts:
    """What every notice of a printing condition says of it, in people's names; `drying_hours` 0 is dry at once, None
    where nobody said."""

    condition: str | None = None
    printer: str
    substrate: str
    mode: str | None = None
    technology: str
    drying_hours: float | None = None
    coated_side: str | None = None
    core_inches: float | None = None
    without_inks: tuple[str, ...] = ()
    notes: str | None = None


@dataclass(frozen=True, kw_only=True)
class ConditionCase(ConditionFacts, Payload):
    """A case of a printing condition: the condition with its stock, its state, and the check it is about.

    `count` is how many checks in a row confirmed it, `urgency` the severity of its step; `again` what its check tells
    as a second reading: its diagnosis is then weighed with both.
    """

    told_by: ClassVar[str] = "check"

    state: str | None = None
    reasons: tuple[ReasonFacts, ...]
    due_at: datetime | None = None
    check: CheckFacts | None = field(default=None, metadata=ABSENT)
    count: int | None = field(default=None, metadata=ABSENT)
    urgency: str | None = field(default=None, metadata=ABSENT)
    before: CheckBefore | None = field(default=None, metadata=ABSENT)
    again: AgainFacts | None = field(default=None, metadata=ABSENT)
    standing: StandingFacts | None = field(default=None, metadata=ABSENT)
    voided: VoidedFacts | None = field(default=None, metadata=ABSENT)
    drift: tuple[DriftingFigure, ...] | None = field(default=None, metadata=ABSENT)

    @property
    def place(self) -> str:
        """The printing condition in people's names."""
        return f"{self.printer} / {self.substrate}" + (f" ({self.mode})" if self.mode else "")


@dataclass(frozen=True, kw_only=True)
class CheckCase(ConditionCase):
    """One that is about a check."""

    check: CheckFacts = field()
    count: int = field()


@dataclass(frozen=True, kw_only=True)
class FailedCheckCase(CheckCase):
    """One of a check that failed: how urgent it is decides whether production goes on."""

    urgency: str = field()


@dataclass(frozen=True, kw_only=True)
class DriftCase(CheckCase):
    """One of figures that drift; the check is the last one that shows it."""

    drift: tuple[DriftingFigure, ...] = field()


@dataclass(frozen=True, kw_only=True)
class ConditionCases(Payload):
    """Cases of several printing conditions that are told at one moment."""

    conditions: tuple[ConditionCase, ...]

    @classmethod
    def from_json(cls, kept: Any, where: str = "facts") -> Self:
        if isinstance(kept, Mapping) and not kept.get("conditions"):  # as they were told before several made one notice
            return cls(conditions=(ConditionCase.from_json(kept, where),))
        return super().from_json(kept, where)


@dataclass(frozen=True, kw_only=True)
class DryingChart(KeptFacts):
    """A chart that was printed and not read yet; `dry` where it can be read, `assumed` where nobody said when it is."""

    printer: str
    substrate: str
    mode: str | None = None
    printed_at: datetime
    dry_at: datetime
    dry: bool = False
    assumed: bool = False

    @property
    def place(self) -> str:
        """The printing condition in people's names."""
        return f"{self.printer} / {self.substrate}" + (f" ({self.mode})" if self.mode else "")


@dataclass(frozen=True, kw_only=True)
class OpenWork(Payload):
    """What is open about printing conditions, the riskiest first, `left_out` of them not listed; charts that dry; and
    notices of other things, as a summary keeps them. `ended` and `begun` are the shifts of a hand-over."""

    conditions: tuple[ConditionCase, ...]
    left_out: int = 0
    drying: tuple[DryingChart, ...] = ()
    notices: tuple[Any, ...] = ()
    ended: str | None = field(default=None, metadata=ABSENT)
    begun: str | None = field(default=None, metadata=ABSENT)


@dataclass(frozen=True, kw_only=True)
class RefusedFileCase(Payload):
    """A file that was not taken; `folder` is empty at the top, `set_aside_as` None where the file stayed."""

    file_name: str
    folder: str | None
    set_aside_as: str | None
    arrived_at: datetime
    reasons: tuple[ReasonFacts, ...]


@dataclass(frozen=True, kw_only=True)
class CertificateCase(Payload):
    """An instrument past its certificate; `day` is the last of that."""

    instrument: str
    day: date


@dataclass(frozen=True, kw_only=True)
class ArrivalsCase(Payload):
    """No file came for so many hours of working time; the last one `last_at`, if ever."""

    hours: float
    last_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class ArrivalsAgain(Payload):
    """The end of that."""

    told_by: ClassVar[str] = "arriving"

    arriving: bool


@dataclass(frozen=True, kw_only=True)
class TroubleCase(Payload):
    """A trouble by the name it had when it began, what it is about, and what is known of it; both may be empty.

    `unrecorded_since` is when the store began to take nothing, where people are told without it.
    """

    told_by: ClassVar[str] = "trouble"

    trouble: str
    about: str
    detail: str
    unrecorded_since: datetime | None = field(default=None, metadata=ABSENT)


@dataclass(frozen=True, kw_only=True)
class BitingLimit(KeptFacts):
    """A figure beyond a limit that did not bite before; `level` is `warn` or `act`, `before` None for none at all."""

    group: str
    metric: str
    level: str
    limit: float
    value: float
    before: float | None


@dataclass(frozen=True, kw_only=True)
class ConditionBitten(KeptFacts):
    """A printing condition in people's names, its last check, and the limits that check would meet now."""

    condition: str
    printer: str
    substrate: str
    mode: str | None = None
    check: int
    measured_at: datetime
    limits: tuple[BitingLimit, ...]

    @property
    def place(self) -> str:
        """The printing condition in people's names."""
        return f"{self.printer} / {self.substrate}" + (f" ({self.mode})" if self.mode else "")


@dataclass(frozen=True, kw_only=True)
class RulesCase(Payload):
    """Figures are made by other rules than before; `conditions` are those where limits bite that did not, `refused`
    those whose last check is not taken any more: it stands as it is on record."""

    rules_version: int
    conditions: tuple[ConditionBitten, ...]
    refused: tuple[ConditionBitten, ...] | None = field(default=None, metadata=ABSENT)


@dataclass(frozen=True, kw_only=True)
class FileGroup(KeptFacts):
    """Files of one folder that were not taken for one reason: how many, and the names of the first."""

    folder: str | None
    reason: ReasonFacts | None
    count: int
    names: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class FilesTogether(KeptFacts):
    """Files that were not taken, `kind` as the notice of one is called; `count` of them in all, `groups` the largest
    first, perhaps not all."""

    kind: str
    count: int
    groups: tuple[FileGroup, ...]


@dataclass(frozen=True, kw_only=True)
class UndeliveredTogether(KeptFacts):
    """Notices that were given up: `count` of them, posted between `first` and `last`; `late` messages came after all,
    by up to `latest_hours`."""

    count: int
    first: datetime
    last: datetime
    late: int
    latest_hours: float


@dataclass(frozen=True, kw_only=True)
class SummaryPayload(Payload):
    """Notices told in one, each with its `kind`, `key` and `facts`: read one by one, since they are of any age.

    Of files that came together the first notices alone, and what they have in common. After the store was `restored`,
    what waited then, or came up anew. Of those that were `undelivered` the newest.
    """

    notices: tuple[Any, ...]
    files: FilesTogether | None = field(default=None, metadata=ABSENT)
    restored: TroubleCase | None = field(default=None, metadata=ABSENT)
    undelivered: UndeliveredTogether | None = field(default=None, metadata=ABSENT)


@dataclass(frozen=True, kw_only=True)
class Envelope(KeptFacts):
    """What the dispatch adds to a payload: the zone of the site, the step of the cases, how pressing, their numbers."""

    timezone: str = "UTC"
    step: str | None = field(default=None, metadata=ABSENT)
    severity: str | None = field(default=None, metadata=ABSENT)
    cases: tuple[int, ...] | None = field(default=None, metadata=ABSENT)

    @classmethod
    def from_json(cls, kept: Any, where: str = "facts") -> Self:
        if isinstance(kept, Mapping) and "cases" not in kept and "incidents" in kept:  # their name in earlier versions
            kept = {**kept, "cases": kept["incidents"]}
        return super().from_json(kept, where)
