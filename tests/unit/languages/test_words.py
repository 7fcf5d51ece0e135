"""Words that a practitioner would read otherwise than they are meant stand in no catalogue."""

from __future__ import annotations

import re
from functools import cache
from typing import get_args

import pytest

from sentinel.core.message import Language
from sentinel.languages.gathering import HERE, kept, patterns

MISREAD: dict[Language, dict[str, str]] = {
    "en": {
        r"targets?": "aim; a target is a chart to many",
        r"paper": "bare stock, or the stock",
        r"incidents?|matters?": "case",
        r"foretold|foretells?|foresees?": "expected",
        r"strays?|straying|strayed": "odd patches",
        r"(?:lie|lies|far) apart": "differ, read off",
        r"control charts?|control limits?": "drift chart",
        r"fingerprints?|hash(?:es)?": "print-settings id",
        r"never[- ]run|never checked": "no valid check since",
        r"beyond (?:an|its|the) action limits?|within (?:the )?action limits": "out of tolerance, within tolerance",
        r"(?<!colour )check (?:turns |is )?due": "colour check due",
        r"outliers?|outlying": "odd patches",
        r"medium|media(?! feed)": "stock",
    },
    "de": {
        r"Targets?|Zielwerte?": "Sollwerte",
        r"Papier\w*": "Bedruckstoff",
        r"Vorf[aä]ll\w*|Störf[aä]ll\w*|Zwischenf[aä]ll\w*": "Fall",
        r"Vorgaben?": "Sollwerte",
        r"vorhergesagt\w*|geweissagt": "erwartet",
        r"Ausreißer\w*|Streuer": "auffällige Messfelder",
        r"auseinander(?:liegen)?": "sich unterscheiden",
        r"Regelkarten?|Kontrollkarten?|Kontrollgrenzen?": "Driftkarte",
        r"Fingerabdr\w+|Hash\w*": "Kennung der Druckeinstellungen",
        r"nie geprüft\w*|nie gelaufen": "keine gültige Prüfung seit",
    },
    "fr": {
        r"cibles?": "valeurs visées",
        r"papiers?": "support",
        r"incidents?": "cas",
        r"prédits?|prédites?": "attendu",
        r"aberrante?s?": "plages suspectes",
        r"cartes? de contrôle|limites? de contrôle": "carte de dérive",
        r"empreintes?": "identifiant des réglages",
        r"jamais contrôlée?s?": "aucun contrôle valable depuis",
    },
}
"""By language: what is misread, and what is said instead."""


AS_TYPED = re.compile(r"`[^`]*`|sentinel [a-z]+(?: [a-z]+)?|\{[^}]*\}|\[[a-z]+\]")
"""Commands, keys and values, which stay as they are."""


@cache
def said(language: Language) -> list[str]:
    """Every sentence that people may read in a language; names of commands and keys are none."""
    if language == "en":
        texts = [text for each in patterns() for text in (each.one, each.several) if text]
    else:
        strings = [each.string for each in kept(HERE / f"{language}.po") if each.id]
        texts = [text for each in strings for text in ([each] if isinstance(each, str) else each)]
    return [re.sub(AS_TYPED, "", text) for text in texts]


@pytest.mark.parametrize(
    ("language", "word"), [(language, word) for language, words in MISREAD.items() for word in words]
)
def test_no_word_that_is_misread_is_said(language: Language, word: str) -> None:
    pattern = re.compile(rf"\b(?:{word})\b", re.IGNORECASE)
    found = [text for text in said(language) if pattern.search(text)]
    assert found == [], f"say {MISREAD[language][word]} instead"


def test_what_people_read_is_looked_through() -> None:
    assert any("bare stock" in text for text in said("en"))
    assert any("Bedruckstoff" in text for text in said("de"))
    assert any("support nu" in text for text in said("fr"))
    assert not any("`" in text or "{" in text for language in get_args(Language) for text in said(language))


def test_every_language_has_its_list() -> None:
    assert set(MISREAD) == set(get_args(Language))
