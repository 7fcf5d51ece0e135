"""The catalogues hold what the program says, whole, and leave no value out."""

from __future__ import annotations

from functools import cache
from gettext import NullTranslations
from pathlib import Path
from string import Formatter
from typing import get_args

import pytest
from babel.messages.catalog import Catalog, Message

from sentinel.adapters.catalogues import localizer
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import Notice
from sentinel.core.message import Language
from sentinel.languages.gathering import HERE, brought_up, done, gathered, kept, patterns
from sentinel.render.localizer import LOCALES, CldrLocalizer
from sentinel.render.notices import Form, Letters, every_sample
from sentinel.render.notices.samples import KEY

OTHERS = [language for language in get_args(Language) if language != "en"]


@cache
def template() -> Catalog:
    """Of the program as it is now."""
    return gathered()


def catalogue(language: Language) -> Catalog:
    return kept(HERE / f"{language}.po")


def messages(language: Language) -> list[Message]:
    return [message for message in catalogue(language) if message.id]


def fields(pattern: str) -> set[tuple[str, str]]:
    return {(name, specification or "") for _, name, specification, _ in Formatter().parse(pattern) if name is not None}


def test_every_language_of_the_settings_has_its_catalogue_and_its_locale() -> None:
    assert sorted(path.stem for path in HERE.glob("*.po")) == sorted(OTHERS)
    assert set(LOCALES) == set(get_args(Language))


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalogue_holds_what_the_program_says_and_nothing_else(language: Language) -> None:
    said = {message.id for message in template() if message.id}
    assert {message.id for message in messages(language)} == said


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalogue_is_whole(language: Language) -> None:
    left = [message.id for message in messages(language) if not done(message)]
    assert left == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_fills_in_what_its_pattern_does(language: Language) -> None:
    for message in messages(language):
        wanted = fields(message.id if isinstance(message.id, str) else message.id[1])
        for text in _texts(message):
            assert fields(text) == wanted, text


def _texts(message: Message) -> list[str]:
    return [message.string] if isinstance(message.string, str) else list(message.string)


class Missing(NullTranslations):
    """Remembers what it was asked for and has not."""

    def __init__(self, own: NullTranslations) -> None:
        super().__init__()
        self.add_fallback(own)
        self.missed: set[str] = set()

    def gettext(self, message: str) -> str:
        found = super().gettext(message)
        if found == message:
            self.missed.add(message)
        return found


@pytest.mark.parametrize("language", OTHERS)
def test_no_notice_says_anything_in_english(language: Language) -> None:
    missing = Missing(localizer(language, "metric").catalogue)
    letters = Letters(localizer=CldrLocalizer(language, "metric", missing))
    for kind, samples in every_sample().items():
        for facts in samples.values():
            letters.letter(Notice(KEY, NoticeKind(kind), "", 0, facts)).message(Form.TEXT)
    same = {pattern for pattern in missing.missed if any(character.isalpha() for character in _words(pattern))}
    assert same <= {message.id for message in messages(language) if message.id == message.string}


def _words(pattern: str) -> str:
    return "".join(text for text, _, _, _ in Formatter().parse(pattern))


@pytest.mark.parametrize("language", OTHERS)
def test_titles_say_what_happened_before_they_are_cut(language: Language) -> None:
    letters, english = Letters(localizer=localizer(language, "metric")), Letters()
    for kind, samples in every_sample().items():
        for what, facts in samples.items():
            notice = Notice(KEY, NoticeKind(kind), "", 0, facts)
            if not english.letter(notice).document.title.endswith("…"):
                assert not letters.letter(notice).document.title.endswith("…"), f"{kind}: {what}"


def test_a_new_pattern_comes_in_untranslated_and_a_reworded_one_waits_for_somebody() -> None:
    old, new = Catalog(locale="de", fuzzy=False), Catalog(fuzzy=False)
    old.add("the last check is of {day}", "die letzte Prüfung ist vom {day}")
    new.add("the last check was on {day}")
    new.add("{count} heads were changed")
    found = {message.id: message for message in brought_up(old, new) if message.id}
    assert set(found) == {"the last check was on {day}", "{count} heads were changed"}
    assert found["the last check was on {day}"].fuzzy
    assert not found["{count} heads were changed"].string


def test_a_call_that_gives_no_literal_is_refused_with_its_place(tmp_path: Path) -> None:
    program = tmp_path / "program"
    program.mkdir()
    (program / "words.py").write_text("from sentinel.core.message import msg\n\nmsg('one')\nmsg(f'{1} is one')\n")
    with pytest.raises(ValueError, match=r"program/words\.py:4: expected msg\(\) to get one literal or two"):
        list(patterns(program))


def test_what_is_said_is_found_in_the_program() -> None:
    found = {each.one: each for each in patterns()}
    assert found["Who acts"].place == "sentinel/render/notices/writer.py"
    assert any(each.several for each in found.values())
