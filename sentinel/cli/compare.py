"""`sentinel compare`: any two readings held against each other, without limits and without a verdict."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from sentinel.cli.command import Exit
from sentinel.core.message import Localizer, Message
from sentinel.core.scoring.metrics import GroupFigures
from sentinel.core.scoring.names import group_words
from sentinel.core.verdict import Reason
from sentinel.errors import OperatorError

if TYPE_CHECKING:
    from sentinel.cli.command import Commands
    from sentinel.core.measurement import Measurement


COMPARE_SCHEMA = "sentinel.compare/1"
COLUMNS = {
    "mean ΔE00": "de00_mean",
    "p95": "de00_p95",
    "max": "de00_max",
    "on paper": "rel_de00_mean",
    "ΔL*": "dl_mean",
    "Δa*": "da_mean",
    "Δb*": "db_mean",
}


class _OfReadings(Localizer):
    """What scoring says of a target and a measurement, said of two equal readings; names of files stay."""

    def pattern(self, sentence: Message) -> str:
        pattern = super().pattern(sentence)
        return pattern.replace("the target", "the first reading").replace("the measurement", "the second reading")


def of_readings(sentence: Message) -> str:
    """A sentence of scoring, in the words of two readings."""
    return _OfReadings().text(sentence)


def compared_text(first: str, second: str, patches: int, figures: GroupFigures, remarks: Sequence[Reason]) -> str:
    """A line a group: differences of the second from the first, and signed means."""
    rows = [
        (str(group_words(group)), *(f"{values[name]:.2f}" if name in values else "-" for name in COLUMNS.values()))
        for group, values in figures.metrics.items()
    ]
    align = ("left", *("right" for _ in COLUMNS))
    table = tabulate(rows, headers=("", *COLUMNS), tablefmt="simple", disable_numparse=True, colalign=align)
    worst = ", ".join(f"{patch.label} ({patch.de00:.2f})" for patch in figures.worst)
    notes = [f"- {of_readings(reason.message)}" for reason in remarks]
    return "\n".join([f"{second} less {first}, {patches} patches", "", table, "", f"farthest apart: {worst}", *notes])


def compared_json(
    first: str, second: str, patches: int, figures: GroupFigures, remarks: Sequence[Reason]
) -> dict[str, Any]:
    """The same, whole."""
    return {
        "schema": COMPARE_SCHEMA,
        "compared": True,
        "first": first,
        "second": second,
        "matched": patches,
        "reasons": [{"code": reason.code.value, "message": of_readings(reason.message)} for reason in remarks],
        "metrics": figures.metrics,
        "worst": [{"patch": patch.label, "de00": patch.de00} for patch in figures.worst],
    }


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "compare",
        help="hold two readings against each other",
        description="Compares two readings patch by patch: sheet to sheet, printer to printer on the same stock, "
        "instrument to instrument. The first is the reference; differences are the second less the first. There is no "
        "verdict. Exit codes: 0 compared, 2 no such check or file, 3 the two must not or cannot be compared.",
    )
    for name, order in (("a", "first"), ("b", "second")):
        parser.add_argument(
            name,
            metavar=name.upper(),
            help=f"the {order}: a check's number, as `sentinel checks` shows, or a measurement file, with `#2` behind "
            "it for its second table",
        )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_compare)


def _compare(options: argparse.Namespace) -> Exit:
    from sentinel.core.colour.bands import SpectrumError
    from sentinel.core.scoring.matching import comparable, match
    from sentinel.core.scoring.metrics import figures_of
    from sentinel.core.scoring.policy import ScoringOptions
    from sentinel.core.verdict import Unscored

    first, second = (_reading(text, options.config) for text in (options.a, options.b))
    try:
        remarks = comparable(first.condition, second.condition, unknown_m_scored=True)
        pairs = match(first, second)
    except (Unscored, SpectrumError) as refusal:
        message = of_readings(refusal.reason.message if isinstance(refusal, Unscored) else refusal.sentence)
        print(json.dumps({"compared": False, "message": message}) if options.json else f"not compared: {message}")
        return Exit.UNSCORED
    figures = figures_of(pairs, ScoringOptions())
    if options.json:
        print(json.dumps(compared_json(options.a, options.b, len(pairs), figures, remarks)))
    else:
        print(compared_text(options.a, options.b, len(pairs), figures, remarks))
    return Exit.FINE


def _reading(text: str, config: Path) -> Measurement:
    return _recorded(int(text), config) if text.isdecimal() else _from_file(text)


def _recorded(seq: int, config: Path) -> Measurement:
    from sentinel.adapters.files.archive import Archive
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.cli.sources import archived, recorded_check
    from sentinel.settings.loading import load

    settings = load(config).settings
    record = recorded_check(ReadSession(settings.store.path, settings.site.name), seq)
    return archived(Archive(settings.folders.archive), record.sha256, record.table, f"check {seq}")


def _from_file(text: str) -> Measurement:
    from sentinel.cli.sources import file_bytes
    from sentinel.core.measurement.formats import read_measurements
    from sentinel.settings.site import LARGEST_MB

    name, mark, table = text.rpartition("#")
    if not (mark and table.isdecimal() and not Path(text).exists()):
        name, table = text, "1"
    found = read_measurements(file_bytes(Path(name), LARGEST_MB, "a measurement file"))
    if not 1 <= int(table) <= len(found):
        raise OperatorError(f"expected a table of the {len(found)} in {name}, got {table}")
    return found[int(table) - 1]
