"""Numbers, days and quantities in a language and in units.

The forms are those of the Unicode CLDR, release as Babel brings it; conversions are those of NIST SP 811 (2008),
appendix B.8.
"""

from __future__ import annotations

from datetime import date, datetime
from gettext import NullTranslations
from zoneinfo import ZoneInfo

import pytest

from sentinel.core.message import ENGLISH, Language, Quantity, UnitOfMeasure, msg
from sentinel.render.localizer import IN_ENGLISH, CldrLocalizer

DAY = date(2026, 7, 6)
MOMENT = datetime(2026, 7, 6, 8, 30, tzinfo=ZoneInfo("Europe/Berlin"))
SPACE, NARROW = "\u00a0", "\u202f"


@pytest.mark.parametrize(
    ("language", "number", "percent", "day", "moment", "span"),
    [
        ("en", "7.25", "95%", "2026-07-06", "2026-07-06 08:30 CEST", "7.5 days"),
        ("de", "7,25", f"95{SPACE}%", "06.07.2026", "06.07.2026 08:30 CEST", "7,5 Tage"),
        ("fr", "7,25", f"95{SPACE}%", "6 juil. 2026", "6 juil. 2026 08:30 CEST", f"7,5{SPACE}jours"),
    ],
)
def test_a_language_writes_as_its_readers_do(
    language: Language, number: str, percent: str, day: str, moment: str, span: str
) -> None:
    own = CldrLocalizer(language)
    assert own.text(msg("{size:.2f}", size=7.25)) == number
    assert own.text(msg("{sure:.0%}", sure=0.95)).replace(NARROW, SPACE) == percent
    assert own.text(msg("{day}", day=DAY)) == day
    assert own.text(msg("{time}", time=MOMENT)) == moment
    assert own.text(msg("{span}", span=Quantity(7.5, UnitOfMeasure.DAY))) == span


@pytest.mark.parametrize("unit", [unit for unit in UnitOfMeasure if unit is not UnitOfMeasure.CORE_INCH])
@pytest.mark.parametrize("value", [0.5, 1, 2, 40.25])
def test_english_of_the_core_is_that_of_the_cldr(unit: UnitOfMeasure, value: float) -> None:
    assert IN_ENGLISH.quantity(Quantity(value, unit)) == ENGLISH.quantity(Quantity(value, unit))


@pytest.mark.parametrize(
    ("quantity", "metric", "imperial"),
    [
        (Quantity(0.09290304, UnitOfMeasure.SQUARE_METRE), "0.09 square metres", "1 square foot"),
        (Quantity(40, UnitOfMeasure.SQUARE_METRE), "40 square metres", "431 square feet"),
        (Quantity(20, UnitOfMeasure.CELSIUS), "20 °C", "68 °F"),
        (Quantity(22.5, UnitOfMeasure.CELSIUS), "22.5 °C", "72.5 °F"),
        (Quantity(3, UnitOfMeasure.CORE_INCH), "3 inches (76 mm)", "3 inches"),
        (Quantity(2, UnitOfMeasure.HOUR), "2 hours", "2 hours"),
    ],
)
def test_units_are_the_reader_s(quantity: Quantity, metric: str, imperial: str) -> None:
    assert CldrLocalizer("en", "metric").quantity(quantity) == metric
    assert CldrLocalizer("en", "imperial").quantity(quantity) == imperial


def test_a_pattern_that_no_catalogue_knows_is_said_in_english() -> None:
    assert CldrLocalizer("de", catalogue=NullTranslations()).text(msg("{day} was it", day=DAY)) == "06.07.2026 was it"


def test_sentences_of_facts_are_retold_and_the_rest_stays() -> None:
    reason = {"code": "too-old", **msg("{size:.1f} is old", size=1.5).as_json()}
    facts = {
        "printer": "North",
        "reasons": [reason],
        "check": {"seq": 7, "evidence": {"sentence": "none", "de00": 1.5}},
    }
    told = CldrLocalizer("de").retold(facts)
    assert told["reasons"][0]["message"] == "1,5 is old"
    assert told["printer"] == "North"
    assert told["check"] == facts["check"]


def test_a_sentence_of_another_version_is_told_in_its_english() -> None:
    kept = {"message": "it was so", "pattern": "{gone} was so", "values": {"here": 1}}
    assert CldrLocalizer("de").retold(kept)["message"] == "it was so"


class Wrong(NullTranslations):
    """A catalogue whose translations ask for what no sentence has."""

    def gettext(self, message: str) -> str:
        return "{nothing} of {0} {size:z}"


def test_a_translation_that_breaks_gives_way_to_english() -> None:
    assert CldrLocalizer("de", catalogue=Wrong()).text(msg("{size:.1f} is it", size=1.5)) == "1.5 is it"
