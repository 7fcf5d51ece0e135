"""What is written from the parser: manual pages, completion.

`python -m sentinel.cli.documents FOLDER` writes it below FOLDER, laid out as man and the shells look for it below
`/usr/share`.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from sentinel.cli.completion import bash, zsh
from sentinel.cli.manual import pages
from sentinel.cli.outline import outline


def documents() -> dict[str, str]:
    """Each text by its place."""
    found = outline()
    return {
        **{f"man/man1/{name}": text for name, text in pages(found).items()},
        "bash-completion/completions/sentinel": bash(found),
        "zsh/vendor-completions/_sentinel": zsh(found),
    }


def main(arguments: Sequence[str]) -> None:
    """Raises SystemExit where not one folder is named."""
    if len(arguments) != 1:
        sys.exit(f"sentinel.cli.documents: expected one folder, got {len(arguments)} arguments")
    for place, text in documents().items():
        path = Path(arguments[0], place)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
