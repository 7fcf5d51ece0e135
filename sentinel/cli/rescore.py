"""`sentinel rescore`: a recorded check scored again from the archive."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.adapters.archive import Archive
    from sentinel.cli.parsing import Commands
    from sentinel.core.cgats.measurement import Measurement


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
    from sentinel.adapters.archive import Archive
    from sentinel.adapters.store.store import StoreView
    from sentinel.core.scoring.rescoring import TOLERANCE, rescored
    from sentinel.core.scoring.score import RULES_VERSION
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    record = StoreView(settings.store.path, settings.site.name).recorded_check(options.check)
    if record is None:
        raise AdminError(f"expected the number of a recorded check, got {options.check}: see `sentinel checks`")
    archive = Archive(settings.folders.archive)
    target = _measurement(archive, record.target_hash, record.target_table, f"the target {record.target}")
    sample = _measurement(archive, record.sha256, record.table, record.file_name)
    again = rescored(target, sample, record.limits, record.reckoning, record.metrics)
    same = again.worst <= TOLERANCE and again.verdict is record.verdict
    outcome = {
        "check": record.seq,
        "condition": record.condition,
        "recorded_verdict": record.verdict.value,
        "verdict": again.verdict.value,
        "rules_version": {"recorded": record.rules_version, "now": RULES_VERSION},
        "identical": not again.differing and again.verdict is record.verdict,
        "worst_difference": again.worst,
        "differing": list(again.differing),
    }
    print(json.dumps(outcome) if options.json else "\n".join(f"{name}: {value}" for name, value in outcome.items()))
    return Exit.FINE if same else Exit.FAILED


def _measurement(archive: Archive, sha256: str, table: int, what: str) -> Measurement:
    from sentinel.core.cgats import measurements, read

    try:
        data = archive.fetch(sha256)
    except OSError as fault:
        raise AdminError(f"expected {what} in the archive as {sha256}, got: {fault.strerror}") from None
    return measurements(read(data))[table - 1]
