"""The language and the units of whoever reads: numbers, days and quantities as the Unicode CLDR has them (Babel)."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import cache
from gettext import NullTranslations
from typing import Any

from babel.dates import format_date, format_skeleton, format_time
from babel.numbers import format_percent, get_decimal_symbol
from babel.units import format_unit

from sentinel.core.message import ENGLISH, Language, Localizer, Message, Quantity, Text, UnitOfMeasure, Units
from sentinel.render.plainly import plainly

FOOT_METRES = 0.3048
"""Exactly: the international foot, NIST SP 811 (2008), appendix B."""
INCH_MILLIMETRES = 25.4

LOCALES: Mapping[Language, str] = {"en": "en_GB", "de": "de_DE", "fr": "fr_FR"}

_CLDR: Mapping[UnitOfMeasure, str] = {
    UnitOfMeasure.DAY: "duration-day",
    UnitOfMeasure.HOUR: "duration-hour",
    UnitOfMeasure.SQUARE_METRE: "area-square-meter",
    UnitOfMeasure.CORE_INCH: "length-inch",
}

SENTENCES = ("message", "sentence")
"""Names under which facts keep a sentence, with its `pattern` and `values` beside it."""


GREATEST = 1e15
"""Larger quantities, which only damage makes, are told in English: Babel writes no more digits than it reckons with."""


_decimal_symbol = cache(get_decimal_symbol)
"""Of a locale by its name, which Babel would take apart for each number."""


class CldrLocalizer(Localizer):
    """One language, by its catalogue of patterns, and one system of units; `plain` without statistics."""

    def __init__(
        self,
        language: Language = "en",
        units: Units = "metric",
        catalogue: NullTranslations | None = None,
        *,
        plain: bool = False,
    ) -> None:
        self.language = language
        self.units = units
        self.plain = plain
        self._locale = LOCALES[language]
        self.catalogue = catalogue or NullTranslations()

    def plainly(self) -> CldrLocalizer:
        """The same for whoever stands at a machine."""
        return CldrLocalizer(self.language, self.units, self.catalogue, plain=True)

    def text(self, what: Text) -> str:
        """What is said; in English where a translation asks for what is not there: a notice must go out."""
        what = plainly(what) if self.plain else what
        try:
            return super().text(what)
        except (KeyError, IndexError, ValueError):
            return ENGLISH.text(what)

    def pattern(self, sentence: Message) -> str:
        if sentence.several is None:
            return self.catalogue.gettext(sentence.pattern) if sentence.pattern else ""
        count = dict(sentence.values)["count"]
        return self.catalogue.ngettext(sentence.pattern, sentence.several, count if isinstance(count, int) else 2)

    def number(self, value: float, specification: str) -> str:
        if specification == ".0%":
            return format_percent(value, "#,##0%" if self.language == "en" else None, locale=self._locale)
        return format(value, specification).replace(".", _decimal_symbol(self._locale))

    def day(self, day: date) -> str:
        return super().day(day) if self.language == "en" else format_date(day, locale=self._locale)

    def short_day(self, day: date) -> str:
        """A day without its year."""
        return format_skeleton("MMMd", day, locale=self._locale)

    def moment(self, time: datetime) -> str:
        if self.language == "en":
            return super().moment(time)
        return f"{self.day(time.date())} {format_time(time, 'short', locale=self._locale)} {time:%Z}"

    def quantity(self, quantity: Quantity) -> str:
        value, unit = quantity.value, quantity.unit
        if not abs(value) <= GREATEST:  # nor what is no number at all
            return super().quantity(quantity)
        if unit is UnitOfMeasure.CELSIUS:
            return self._temperature(value)
        if unit is UnitOfMeasure.CORE_INCH and self.units == "metric":
            return f"{self._counted(value, _CLDR[unit])} ({value * INCH_MILLIMETRES:.0f} mm)"
        if unit is UnitOfMeasure.SQUARE_METRE and self.units == "imperial":
            return self._counted(float(f"{value / FOOT_METRES**2:.3g}"), "area-square-foot")
        return self._counted(value, _CLDR[unit])

    def _counted(self, value: float, unit: str) -> str:
        return format_unit(value, unit, "long", "0.##", locale=self._locale)

    def _temperature(self, celsius: float) -> str:
        if self.units == "imperial":
            return f"{self.number(round(celsius * 9 / 5 + 32, 1), 'g')} °F"
        return f"{self.number(celsius, 'g')} °C"

    def retold(self, facts: Any) -> Any:
        """Facts with every sentence that they keep said in this language."""
        if isinstance(facts, Mapping):
            return {name: self._sentence(facts, name) for name in facts}
        return [self.retold(each) for each in facts] if isinstance(facts, list | tuple) else facts

    def _sentence(self, facts: Mapping[str, Any], name: str) -> Any:
        value = facts[name]
        if name not in SENTENCES or not isinstance(value, str):
            return self.retold(value)
        try:
            return self.text(Message.from_json({**facts, "message": value}))
        except (
            AttributeError,
            IndexError,
            KeyError,
            TypeError,
            ValueError,
        ):  # of another version: its English is there
            return value


IN_ENGLISH = CldrLocalizer()
"""For commands, and where nothing else is set."""
