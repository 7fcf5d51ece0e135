"""`sentinel rescore`: a recorded check scored again from the archive."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

from sentinel.cli.command import Exit

if TYPE_CHECKING:
    from sentinel.cli.command import Commands


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "rescore",
        help="score a recorded check again from the archive",
        description="Scores a recorded check again from the archived file, against the archived target and the limits "
        "it was scored with, and tells whether the figures are the same to the last bit. Exit codes: 0 the same, or "
        "within 1e-9 of it; 1 not; 2 no such check, or its files are not in the archive.",
    )
    parser.add_argument("--check", type=int, required=True, metavar="ID", help="its number, as `sentinel checks` shows")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_rescore)


def _rescore(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.files.archive import Archive
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.cli.sources import archived, recorded_check
    from sentinel.core.scoring.score import RULES_VERSION, TOLERANCE, rescored
    from sentinel.core.verdict import Verdict
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    record = recorded_check(ReadSession(settings.store.path, settings.site.name), options.check)
    archive = Archive(settings.folders.archive)
    target = archived(archive, record.target_hash, record.target_table, f"the target {record.target}")
    sample = archived(archive, record.sha256, record.table, record.file_name)
    again = rescored(target, sample, record.limits, record.reckoning, record.metrics)
    kept = again.verdict if record.verdict is not Verdict.UNSCORED else record.verdict  # withheld, not judged
    same = again.worst <= TOLERANCE and kept is record.verdict
    outcome = {
        "check": record.seq,
        "condition": record.condition,
        "recorded_verdict": record.verdict.value,
        "verdict": kept.value,
        "rules_version": {"recorded": record.rules_version, "now": RULES_VERSION},
        "identical": not again.differing and kept is record.verdict,
        "worst_difference": again.worst,
        "differing": list(again.differing),
    }
    print(json.dumps(outcome) if options.json else _text(outcome))
    return Exit.FINE if same else Exit.FAILED


def _text(outcome: dict[str, Any]) -> str:
    rules = outcome["rules_version"]
    verdicts = f"recorded {outcome['recorded_verdict']}, scored again {outcome['verdict']}"
    return "\n".join(
        (
            f"check {outcome['check']} of {outcome['condition']}: {verdicts}",
            f"rules version: recorded {rules['recorded']}, now {rules['now']}",
            f"the same to the last bit: {'yes' if outcome['identical'] else 'no'}",
            f"largest difference of a figure: {outcome['worst_difference']:g}",
            f"figures that differ: {', '.join(outcome['differing']) or 'none'}",
        )
    )
