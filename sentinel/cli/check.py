"""`sentinel check`: score files now, record nothing."""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from sentinel.cli.exits import Exit, of_verdicts
from sentinel.core.verdict import Verdict

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands
    from sentinel.core.assessment import Assessment


class Scorer(Protocol):
    """One of the two ways of scoring."""

    @property
    def largest_mb(self) -> float: ...
    def file(self, path: Path, data: bytes) -> Sequence[Assessment]: ...


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "check",
        help="score measurement files without recording anything",
        description="Scores CGATS measurement files. Exit codes: 0 pass or warn, 1 any failed, 2 usage, settings or "
        "no such file, 3 anything unscored; the worst of 2, 1, 3 wins.",
    )
    parser.add_argument("files", nargs="+", metavar="FILE", help="a measurement file")
    against = parser.add_mutually_exclusive_group()
    parser.add_argument("--json", action="store_true", help="one JSON object a measurement, a line each")
    against.add_argument(
        "--target",
        action="append",
        default=[],
        metavar="TARGET",
        help="score against this CGATS file under the house default limits, without any settings; given again, it "
        "names the target of another stock, to tell a wrong stock",
    )
    against.add_argument(
        "--condition", metavar="CONDITION", help="the printing condition, where no route of the settings tells it"
    )
    parser.set_defaults(handler=_check)


def _check(options: argparse.Namespace) -> Exit:
    from sentinel.cli.scorers import BySettings, ByTarget

    scorer: Scorer = (
        ByTarget([Path(target) for target in options.target])
        if options.target
        else BySettings(options.config, options.condition)
    )
    verdicts: list[Verdict] = []
    missing = False
    for name in options.files:
        outcome = _one(name, scorer, options.json)
        missing = missing or outcome is None
        verdicts += outcome or []
    return Exit.REFUSED if missing else of_verdicts(verdicts)


def _one(name: str, scorer: Scorer, as_json: bool) -> list[Verdict] | None:
    """Prints the outcome for one file; None where there is no such file."""
    from sentinel.adapters.drop_folder import FileReader, seen_at
    from sentinel.core.assessment import Assessment
    from sentinel.core.reasons import Unscored
    from sentinel.core.scoring.score import unscored
    from sentinel.render.check import check_json, check_text
    from sentinel.service.reading import read_bytes

    path = Path(name)
    place = Path(os.path.realpath(path))  # unlike Path.resolve, takes a link to itself
    found = seen_at(place.parent, place.name)
    if found is None:
        print(f"sentinel: expected a file, there is none at {name}", file=sys.stderr)
        return None
    sha256: str | None = None
    try:
        data = read_bytes(FileReader(), found, scorer.largest_mb)
        sha256, assessments = hashlib.sha256(data).hexdigest(), list(scorer.file(path, data))
    except Unscored as outcome:
        assessments = [Assessment(unscored(outcome.reason))]
    for assessment in assessments:
        print(json.dumps(check_json(name, sha256, assessment)) if as_json else check_text(name, assessment))
    return [assessment.score.verdict for assessment in assessments]
