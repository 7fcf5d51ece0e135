"""Plays a half-year of the room and counts who read what: `python -m tests.simulation.notices.reading [SEED] [DAYS]`.

With `--pages FOLDER` behind them the second month of it is written there, as an operator and as the lead read it, in
every language.

Printed are notices a working day of operators (each) and of the lead, by kind and by what was within summaries; how
many told a case as open that was over by then; and what became of all notices.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import timedelta
from pathlib import Path
from typing import get_args

from sentinel.adapters.catalogues import localizer
from sentinel.core.cases.records import Notice
from sentinel.core.cases.standing import Turn
from sentinel.core.message import Language
from sentinel.render.notices import Letters
from tests.simulation.notices.half_year import BEGIN, DAYS, HOLIDAYS, PRINTERS, HalfYear, Told, singles

READERS = {"operator": tuple(f"at-{each}" for each in PRINTERS), "lead": ("lead",)}


def working_days(days: int) -> int:
    """Of the first so many days of the half-year."""
    dates = (BEGIN.date() + timedelta(days=number) for number in range(days))
    return sum(each.weekday() < 5 and each.isoformat() not in HOLIDAYS for each in dates)


def figures(told: Sequence[Told], days: int) -> Iterable[str]:
    """Lines of a table."""
    for reader, names in READERS.items():
        own = [each for each in told if each.recipient in names]
        share = len(names) * working_days(days)
        yield f"{reader}: {len(own) / share:.2f} notices a working day ({len(own)} in all)"
        for kind, count in Counter(_named(each) for each in own).most_common():
            yield f"  {count / share:6.3f}  {count:5}  {kind}"
        within = Counter(
            kind for each in own if each.kind.value not in dict(singles(each)) for kind, _ in singles(each)
        )
        yield f"  within others: {', '.join(f'{kind} {count}' for kind, count in within.most_common())}"
        yield f"  told as open though over: {sum(each.over > 0 for each in own)}"


def _named(told: Told) -> str:
    return " ".join(filter(None, (told.kind.value, told.facts.get("step"))))


A_MONTH = timedelta(days=30)
RULE = "=" * 100


def page(told: Sequence[Told], reader: Turn, language: Language) -> str:
    """The notices of one recipient, in order, as it reads them."""
    letters = Letters(localizer=localizer(language, "metric"), reader=reader)
    parts = []
    for each in told:
        message = letters.letter(Notice(each.key, each.kind, each.recipient, 0, each.facts)).message()
        parts.append(f"{RULE}\n{each.at:%a %Y-%m-%d %H:%M} UTC\n\n{message.title}\n\n{message.body}\n")
    return "\n".join(parts)


def write_pages(told: Sequence[Told], folder: Path) -> None:
    """The second month, a file a reader and language."""
    folder.mkdir(parents=True, exist_ok=True)
    month = [each for each in told if A_MONTH <= each.at - BEGIN < 2 * A_MONTH]
    for recipient, reader in ((READERS["operator"][0], Turn.OPERATOR), (READERS["lead"][0], Turn.COLOUR_LEAD)):
        own = [each for each in month if each.recipient == recipient]
        for language in get_args(Language):
            (folder / f"{recipient}-{language}.txt").write_text(page(own, reader, language))


def main() -> None:
    """One half-year, its figures printed."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("seed", type=int, nargs="?", default=1)
    options.add_argument("days", type=int, nargs="?", default=DAYS)
    options.add_argument("--pages", type=Path)
    asked = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        played = HalfYear(Path(folder), asked.seed, asked.days)
        told = played.run()
        lines = [f"seed {asked.seed}, {asked.days} days, {working_days(asked.days)} of them working days"]
        lines += [f"{played.files} sheets", *figures(told, asked.days), f"outbox at the end: {played.left}"]
    if asked.pages is not None:
        write_pages(told, asked.pages)
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
