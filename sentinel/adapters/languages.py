"""The catalogues of other languages, read from beside the program's own files (`sentinel/languages`)."""

from __future__ import annotations

from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from io import BytesIO

from sentinel.render.tongue import LocalTongue
from sentinel.settings.models import Settings
from sentinel.settings.notices import Language, Units

FOLDER = files("sentinel") / "languages"


def tongue_of(settings: Settings, recipient: str) -> LocalTongue:
    """The language and units of a recipient; those of the house where it has none of its own, or is not known."""
    house, own = settings.notices, settings.recipients.get(recipient)
    language = (own and own.language) or house.language
    return tongue(language, (own and own.units) or house.units)


def house_tongue(settings: Settings) -> LocalTongue:
    """The language and units of the house."""
    return tongue(settings.notices.language, settings.notices.units)


@cache
def tongue(language: Language, units: Units) -> LocalTongue:
    """One a language and system of units, for all who read it."""
    return LocalTongue(language, units, _catalogue(language))


@cache
def _catalogue(language: Language) -> NullTranslations:
    if language == "en":
        return NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    compiled = BytesIO()
    with (FOLDER / f"{language}.po").open("rb") as file:
        write_mo(compiled, read_po(file, locale=language))
    compiled.seek(0)
    return GNUTranslations(compiled)
