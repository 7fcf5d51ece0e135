"""How the story is printed: plain text, 100 columns."""

from __future__ import annotations

import re
import textwrap

from demo.receivers import Received

COLUMNS = 100
MARGIN = "    "


def chapter(number: int, title: str, text: str) -> None:
    """A heading and what happens."""
    heading = f"{number}. {title}"
    print(f"\n{heading}\n{'-' * len(heading)}\n{textwrap.fill(text, COLUMNS)}\n")


def happens(what: str, text: str) -> None:
    """One thing that is done or seen."""
    print(f"  {what:<9} {text}")


def quoted(text: str) -> None:
    """Text as the service wrote it, set off by a bar and wrapped."""
    for line in text.splitlines():
        print("\n".join(f"{MARGIN}| {part}".rstrip() for part in _wrapped(line)))
    print()


def as_printed(text: str) -> None:
    """Text that must not be wrapped, such as a table."""
    print("\n".join(f"{MARGIN}| {line}".rstrip() for line in text.splitlines()) + "\n")


def message(received: Received, paragraphs: int | None) -> None:
    """A message as people see it; only its first paragraphs, where so many are wanted."""
    happens("received", f"{received.way} to {received.to}")
    parts = [received.title, *received.body.split("\n\n")]
    shown = parts if paragraphs is None else parts[: paragraphs + 1]
    quoted("\n\n".join(shown) + ("\n\n(...)" if len(shown) < len(parts) else ""))


def _wrapped(line: str) -> list[str]:
    """The line in the width there is; what goes on stands below its own first word, not below a dash or number."""
    mark = re.match(r" *(?:- |\d\. )?", line)
    hanging = " " * mark.end() if mark else ""
    room = COLUMNS - len(MARGIN) - 2
    return textwrap.wrap(line, room, subsequent_indent=hanging, break_on_hyphens=False) or [""]
