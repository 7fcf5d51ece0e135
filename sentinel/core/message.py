"""What is said to people, kept as a pattern and what fills it: another language, or other units, come later.

A pattern is English, with names in braces and Python's format specifications. It stands literally in a call of `said`,
where the list of what is to be translated is gathered from (`sentinel/languages/README.md`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from string import Formatter
from typing import Any, Literal

Language = Literal["en", "de", "fr"]
Units = Literal["metric", "imperial"]
"""Of areas, cores and temperatures."""


class UnitOfMeasure(StrEnum):
    """What a quantity that people may want in other units, or in other words, is counted in."""

    DAY = "day"
    HOUR = "hour"
    SQUARE_METRE = "square-metre"
    CELSIUS = "celsius"
    CORE_INCH = "core-inch"
    """The inside of a roll's core, which the trade counts in inches everywhere."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number and its unit."""

    value: float
    unit: UnitOfMeasure

    def __str__(self) -> str:
        return ENGLISH.quantity(self)

    def as_json(self) -> dict[str, Any]:
        """The form in which it is kept."""
        return {"quantity": self.value, "unit": self.unit.value}


@dataclass(frozen=True, slots=True)
class Message:
    """A sentence, or a part of one; `several` is its pattern where the value `count` is not 1.

    Without values the pattern is the sentence, whatever stands in it.
    """

    pattern: str
    several: str | None = None
    values: tuple[tuple[str, Value], ...] = ()

    def format(self, **values: Value) -> Message:
        """The same with these values."""
        return Message(self.pattern, self.several, (*self.values, *values.items()))

    def __str__(self) -> str:
        return ENGLISH.text(self)

    def as_json(self) -> dict[str, Any]:
        """`message` is the sentence in English; `pattern`, `several`, `values` say how it is made, where of values."""
        several = {} if self.several is None else {"several": self.several}
        made = {"pattern": self.pattern, **several, "values": {name: _plain(value) for name, value in self.values}}
        return {"message": str(self), **(made if self.values else {})}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> Message:
        """What `as_json` gave. Raises KeyError, TypeError, ValueError for what it never gives."""
        if "pattern" not in kept:
            return cls(kept["message"])
        if not isinstance(kept["pattern"], str) or not isinstance(kept.get("several"), str | None):
            raise TypeError("expected a pattern in words")
        values = tuple((name, _value(value)) for name, value in kept["values"].items())
        return cls(kept["pattern"], kept.get("several"), values)


Value = str | int | float | date | Quantity | Message
"""What fills a pattern; a `date` is a day, a `datetime` a moment in the zone in which it is to be told."""

Text = Message | str
"""What is said to people; a `str` is a name, or comes from elsewhere, and is never translated."""


def msg(pattern: str, several: str | None = None, /, **values: Value) -> Message:
    """A sentence of this pattern, which must be a literal; `several` is for a `count` that is not 1."""
    return Message(pattern, several, tuple(values.items()))


def joined(separator: str, parts: Iterable[Text]) -> Message:
    """Parts one after another, each in its own words."""
    values = {f"part{number}": part for number, part in enumerate(parts)}
    return Message(separator.join(f"{{{name}}}" for name in values), None, tuple(values.items()))


LONGEST_TOLD = 200
"""Letters of one text in a sentence; a file may hold texts of a million."""


def shortened(text: str, most: int = LONGEST_TOLD) -> str:
    """As much of a text as a sentence has room for."""
    return text if len(text) <= most else text[:most] + "…"


def bounded(sentence: Message) -> Message:
    """The same with its texts shortened, however deep they stand in it."""
    values = tuple((name, _bounded(value)) for name, value in sentence.values)
    return sentence if values == sentence.values else Message(sentence.pattern, sentence.several, values)


def _bounded(value: Value) -> Value:
    if isinstance(value, Message):
        return bounded(value)
    return shortened(value) if isinstance(value, str) else value


HIDDEN = (
    "\x00-\x08\x0b-\x1f\x7f-\x9f\xad\u0600-\u0605\u061c\u06dd\u070f\u08e2\u180e\u200b-\u200f\u2028-\u202e"
    "\u2060-\u206f\ufeff\ufff9-\ufffb\ud800-\udfff\U000e0000-\U000e007f"
)
"""Letters that cannot be seen, as ranges of a pattern: controls, marks that turn the direction of writing or join and
part letters, separators of lines and paragraphs, halves of letters. Line feeds and tabs are none."""
_HIDDEN = re.compile(f"[{HIDDEN}]")


def visible(text: str) -> str:
    """The text with what cannot be seen as escapes, for terminals, logs and files that people open."""
    return _HIDDEN.sub(lambda found: found[0].encode("unicode_escape").decode(), text)


def day_of(time: datetime) -> date:
    """The day of a moment, as its own zone has it."""
    return time.date()


def span_of(length: timedelta) -> Quantity:
    """A length of time in days, or in hours below one, to a tenth."""
    days = length / timedelta(days=1)
    if days >= 1:
        return Quantity(round(days, 1), UnitOfMeasure.DAY)
    return Quantity(round(length / timedelta(hours=1), 1), UnitOfMeasure.HOUR)


_ENGLISH_UNITS: Mapping[UnitOfMeasure, tuple[str, str]] = {
    UnitOfMeasure.DAY: ("day", "days"),
    UnitOfMeasure.HOUR: ("hour", "hours"),
    UnitOfMeasure.SQUARE_METRE: ("square metre", "square metres"),
    UnitOfMeasure.CELSIUS: ("°C", "°C"),
    UnitOfMeasure.CORE_INCH: ("inch", "inches"),
}


class Localizer:
    """English in the units in which things are kept; others are made of it (`sentinel.render.localizer`)."""

    def text(self, what: Text) -> str:
        """What is said, in this language. Raises KeyError, ValueError where a pattern asks for what is not there."""
        if isinstance(what, str):
            return what
        pattern = self.pattern(what)
        return _Filling(self).vformat(pattern, (), dict(what.values)) if what.values else pattern

    def pattern(self, sentence: Message) -> str:
        """The pattern for the sentence's count."""
        if sentence.several is None or dict(sentence.values).get("count", 1) == 1:
            return sentence.pattern
        return sentence.several

    def number(self, value: float, specification: str) -> str:
        """A number by a format specification."""
        return format(value, specification)

    def day(self, day: date) -> str:
        """A day: as ISO 8601 has it, since readers of English differ."""
        return day.isoformat()

    def moment(self, time: datetime) -> str:
        """A moment, with its zone."""
        return f"{time:%Y-%m-%d %H:%M %Z}"

    def quantity(self, quantity: Quantity) -> str:
        """A number with its unit."""
        one, several = _ENGLISH_UNITS[quantity.unit]
        return f"{quantity.value:g} {one if quantity.value == 1 else several}"


class _Filling(Formatter):
    """Fills a pattern with values by their kinds; names alone, no attribute or index of them."""

    def __init__(self, localizer: Localizer) -> None:
        self._localizer = localizer

    def get_field(self, field_name: str, args: Any, kwargs: Mapping[str, Any]) -> tuple[Any, str]:  # noqa: ARG002
        return kwargs[field_name], field_name

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, Message):
            return self._localizer.text(value)
        if isinstance(value, Quantity):
            return self._localizer.quantity(value)
        if isinstance(value, datetime):
            return self._localizer.moment(value)
        if isinstance(value, date):
            return self._localizer.day(value)
        return (
            self._localizer.number(value, format_spec) if isinstance(value, int | float) else format(value, format_spec)
        )


ENGLISH = Localizer()


def _plain(value: Value) -> Any:
    if isinstance(value, Quantity | Message):
        return value.as_json()
    if isinstance(value, datetime):
        return {"moment": value.isoformat()}
    return {"day": value.isoformat()} if isinstance(value, date) else value


def _value(kept: Any) -> Value:
    if not isinstance(kept, Mapping):
        value: str | int | float = kept
        return value
    if "quantity" in kept:
        number = kept["quantity"]
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise ValueError(f"expected a number as quantity, got {number!r}")
        return Quantity(number, UnitOfMeasure(kept["unit"]))
    if "moment" in kept:
        return datetime.fromisoformat(kept["moment"])
    return date.fromisoformat(kept["day"]) if "day" in kept else Message.from_json(kept)
