"""Every pattern of the program, gathered from its text, and the catalogues brought up to it.

`python -m sentinel.languages.gathering` does that: new patterns come in untranslated, reworded ones keep their old
translation marked as fuzzy, which is not used until somebody has looked at it.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po, write_po

HERE = Path(__file__).parent
ROOT = HERE.parent


class Pattern(NamedTuple):
    """The literals of one call of `msg`, and where it stands."""

    one: str
    several: str | None
    place: str
    line: int


def patterns(root: Path = ROOT) -> Iterator[Pattern]:
    """Those of every module below `root`. Raises ValueError where a call gives no literal."""
    for path in sorted(root.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if "msg(" not in text:
            continue
        nodes = list(ast.walk(ast.parse(text)))
        if any(isinstance(node, ast.ImportFrom) and node.module == "sentinel.core.message" for node in nodes):
            place = path.relative_to(root.parent).as_posix()
            yield from (_pattern(node, place) for node in nodes if isinstance(node, ast.Call) and _says(node))


def _says(call: ast.Call) -> bool:
    return isinstance(call.func, ast.Name) and call.func.id == "msg"


def _pattern(call: ast.Call, place: str) -> Pattern:
    words = [each.value for each in call.args if isinstance(each, ast.Constant) and isinstance(each.value, str)]
    if len(words) != len(call.args) or not 1 <= len(words) <= 2:
        raise ValueError(f"{place}:{call.lineno}: expected msg() to get one literal or two, got something else")
    return Pattern(words[0], words[1] if len(words) == 2 else None, place, call.lineno)


def gathered(root: Path = ROOT) -> Catalog:
    """All patterns, untranslated."""
    found = Catalog(fuzzy=False)
    for each in patterns(root):
        found.add((each.one, each.several) if each.several else each.one, locations=[(each.place, each.line)])
    return found


def kept(path: Path) -> Catalog:
    """A catalogue as it is on disk."""
    with path.open("rb") as file:
        return read_po(file, locale=path.stem)


def brought_up(catalogue: Catalog, template: Catalog) -> Catalog:
    """The catalogue with exactly the patterns of the template."""
    catalogue.update(template, update_header_comment=False)
    catalogue.obsolete.clear()
    return catalogue


def done(message: Message) -> bool:
    """Whether every form of it is translated, and nobody need look at it."""
    forms = [message.string] if isinstance(message.string, str) else message.string or [""]
    return all(forms) and not message.fuzzy


def text_of(catalogue: Catalog) -> bytes:
    """The catalogue in PO format, without header fields that nobody fills and a date that each run would change."""
    file = BytesIO()
    write_po(file, catalogue, width=110, sort_by_file=True, include_lineno=False)
    lines = file.getvalue().splitlines(keepends=True)
    return b"".join(line for line in lines if not line.startswith(UNFILLED))


UNFILLED = tuple(
    f'"{field}:'.encode()
    for field in (
        "Generated-By",
        "Language-Team",
        "Last-Translator",
        "PO-Revision-Date",
        "POT-Creation-Date",
        "Project-Id-Version",
        "Report-Msgid-Bugs-To",
    )
)


def main() -> None:
    """Rewrites every catalogue."""
    template = gathered()
    for path in sorted(HERE.glob("*.po")):
        catalogue = brought_up(kept(path), template)
        path.write_bytes(text_of(catalogue))
        left = sum(not done(message) for message in catalogue if message.id)
        print(f"{path.name}: {len(catalogue)} patterns, {left} to be translated")  # noqa: T201


if __name__ == "__main__":
    main()
