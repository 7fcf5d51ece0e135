"""Every notice in one language, on made-up facts, for whoever translates: `python -m sentinel.languages.reading de`."""

from __future__ import annotations

import sys
from typing import get_args

from sentinel.adapters.catalogues import localizer
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import Notice
from sentinel.core.message import Language
from sentinel.render.localizer import CldrLocalizer
from sentinel.render.notices import Letters, every_sample
from sentinel.render.notices.samples import KEY


def read(own: CldrLocalizer) -> str:
    """All of them as plain text, each under what it is a sample of."""
    letters = Letters(localizer=own)
    parts = []
    for kind, samples in every_sample().items():
        for what, facts in samples.items():
            told = letters.letter(Notice(KEY, NoticeKind(kind), "", 0, facts)).message()
            parts.append(f"===== {kind}: {what}\n\n{told.title}\n\n{told.body}")
    return "\n\n".join(parts)


def main() -> None:
    """In the language named on the command line."""
    language = sys.argv[1] if len(sys.argv) == 2 else ""
    if language not in get_args(Language):
        raise SystemExit(f"expected one language of {', '.join(get_args(Language))}, got {language or 'none'}")
    print(read(localizer(language, "metric")))  # noqa: T201


if __name__ == "__main__":
    main()
