"""`sentinel compare`: any two readings held against each other, without limits and without a verdict."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from sentinel.application.comparing import NamedReadings, NotCompared, compare
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.core.dropped_file import shown
from sentinel.core.message import Localizer, Message
from sentinel.core.scoring.metrics import GroupFigures
from sentinel.core.scoring.names import group_words
from sentinel.core.verdict import Reason

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


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
    """What scoring says of an aim and a measurement, said of two equal readings; names of files stay."""

    def pattern(self, sentence: Message) -> str:
        pattern = super().pattern(sentence)
        return pattern.replace("the aim", "the first reading").replace("the measurement", "the second reading")


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


def _options(parser: Parser) -> None:
    parser.description = (
        "Compares two readings patch by patch: sheet to sheet, printer to printer on the same stock, "
        "instrument to instrument. The first is the reference; differences are the second less the first. There is no "
        "verdict. Exit codes: 0 compared, 2 no such check or file, 3 the two must not or cannot be compared."
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


def _compare(options: argparse.Namespace, room: Composition) -> Exit:
    readings = NamedReadings(room.files, room.reading, lambda: room.archive)
    found = compare(readings.named(options.a), readings.named(options.b))
    if isinstance(found, NotCompared):
        message = of_readings(found.why)
        print(json.dumps({"compared": False, "message": message}) if options.json else f"not compared: {message}")
        return Exit.UNSCORED
    if options.json:
        print(json.dumps(compared_json(options.a, options.b, found.patches, found.figures, found.remarks)))
    else:
        print(compared_text(shown(options.a), shown(options.b), found.patches, found.figures, found.remarks))
    return Exit.FINE


COMMANDS: Commands = {"compare": _options}
