"""How the story is printed: plain text, 100 columns."""

from __future__ import annotations

import textwrap

from demo.receivers import Received

COLUMNS = 100
MARGIN = "    "


def chapter(number: int, title: str, text: str) -> None:
    """A heading and what happens."""
    heading = f"{number}. {title}"
    print(f"\n\n{heading}\n{'-' * len(heading)}")
    print(textwrap.fill(text, COLUMNS))


def happens(what: str, text: str) -> None:
    """One thing that is done or seen."""
    print(f"\n  {what:<9} {text}")


def quoted(text: str) -> None:
    """Text as the service wrote it, set off by a bar and wrapped."""
    for line in text.splitlines():
        indent = " " * (len(line) - len(line.lstrip()) + (2 if line.lstrip()[:2] in ("- ", *_NUMBERS) else 0))
        wrapped = textwrap.wrap(line, COLUMNS - len(MARGIN) - 2, subsequent_indent=indent) or [""]
        print("\n".join(f"{MARGIN}| {part}".rstrip() for part in wrapped))


def message(received: Received, paragraphs: int | None) -> None:
    """A message as people see it; only its first paragraphs, where so many are wanted."""
    happens("received", f"{received.way} to {received.to}")
    print(f"{MARGIN}| {received.title}\n{MARGIN}|")
    parts = received.body.split("\n\n")
    shown = parts if paragraphs is None else parts[:paragraphs]
    quoted("\n\n".join(shown))
    if len(shown) < len(parts):
        print(f"{MARGIN}| (...)")


_NUMBERS = tuple(f"{number}." for number in range(1, 10))
