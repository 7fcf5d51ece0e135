"""Catalogues of other languages from beside the program's files, and an admin's own templates of notices."""

from __future__ import annotations

import errno
import stat
from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import structlog

from sentinel.adapters.files import handles
from sentinel.core.message import Language, Units
from sentinel.errors import AdminError
from sentinel.render.localizer import CldrLocalizer

if TYPE_CHECKING:
    from sentinel.render.notices.templates import Templates


FOLDER = files("sentinel") / "languages"


@cache
def localizer(language: Language, units: Units) -> CldrLocalizer:
    """One a language and system of units, for all who read it."""
    return CldrLocalizer(language, units, _catalogue(language))


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


log = structlog.get_logger()

LARGEST_BYTES = 256 * 1024


class TemplateError(AdminError):
    """The folder or a file in it cannot be read."""


def templates(folder: Path | None) -> Templates | None:
    """The templates of a folder; None where there is no folder or it cannot be read: the built-in words go out."""
    if folder is None:
        return None
    from sentinel.render.notices.templates import Templates

    try:
        return Templates(read(folder), _broken)
    except TemplateError as fault:
        log.error("templates not read, notices go out in the built-in words", fault=str(fault))
        return None


def faults(folder: Path | None) -> list[str]:
    """What is wrong with the templates of a folder, each by its file."""
    if folder is None:
        return []
    from sentinel.render.notices import sample_documents
    from sentinel.render.notices.templates import Templates

    try:
        return list(Templates(read(folder)).faults(sample_documents()))
    except TemplateError as fault:
        return [str(fault)]


def read(folder: Path) -> dict[str, str]:
    """The text of every file in it by its name; hidden ones and folders left out. Raises TemplateError.

    The folder may be a link; in it there are none, and nothing that is no file.
    """
    try:
        with handles.opened(folder) as opened:
            kinds = {name: handles.look(opened, name) for name in handles.names_in(opened) if not name.startswith(".")}
            names = [name for name, kind in kinds.items() if kind is not None and not stat.S_ISDIR(kind.st_mode)]
            return {name: _text(opened, folder / name) for name in names}
    except OSError as fault:
        raise TemplateError(f"expected a readable folder at {folder}, got: {fault.strerror}") from None


def _text(folder: int, path: Path) -> str:
    try:
        return handles.read_in(folder, path.name, LARGEST_BYTES).decode("utf-8")
    except OSError as fault:
        if fault.errno == errno.EFBIG:
            raise TemplateError(f"expected {path} to be at most {LARGEST_BYTES} bytes, got a larger file") from None
        raise TemplateError(f"expected a readable file at {path}, got: {_said(fault)}") from None
    except UnicodeDecodeError:
        raise TemplateError(f"expected UTF-8 text in {path}, got other bytes") from None


def _said(fault: OSError) -> str | None:
    return "a link, which is not followed" if fault.errno == errno.ELOOP else fault.strerror


def _broken(name: str, fault: str) -> None:
    log.warning("template broke, the built-in text goes out", template=name, fault=fault)
