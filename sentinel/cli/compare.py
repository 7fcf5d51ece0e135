"""`sentinel compare`: readings held against one another, without limits and without a verdict: any two, the sheets of
several places across the web, or the same sheets read by two instruments."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from sentinel.application.comparing import NamedReadings, NotCompared, compare, each_once
from sentinel.application.comparing_across import NotHeldAcross, compare_across, policy_of_checks
from sentinel.application.comparing_instruments import NotPaired, compare_instruments
from sentinel.application.names import condition_named, is_number
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.cli.compare_across import across_json, across_text
from sentinel.cli.compare_instruments import instruments_json, instruments_text
from sentinel.core.diagnosis.width import FEWEST_PLACES, MOST_PLACES
from sentinel.core.dropped_file import shown
from sentinel.core.message import Localizer, Message
from sentinel.core.scoring.metrics import GroupFigures
from sentinel.core.scoring.names import group_words
from sentinel.core.verdict import Reason
from sentinel.errors import OperatorError

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

    def __init__(self, first: str, second: str) -> None:
        self._first, self._second = first, second

    def pattern(self, sentence: Message) -> str:
        pattern = super().pattern(sentence)
        return pattern.replace("the aim", self._first).replace("the measurement", self._second)


def of_readings(sentence: Message, names: tuple[str, str] | None = None) -> str:
    """A sentence of scoring, in the words of two readings; of those of these `names`, where there are more."""
    return _OfReadings(*(names or ("the first reading", "the second reading"))).text(sentence)


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
        "instrument to instrument. The first is the reference; differences are the second less the first. With "
        "--across, the sheets of one chart printed at several places across the web, from left to right: what differs "
        "across the width. With --instruments, the same sheets read by two instruments: how they differ, and the "
        "correction between them, which is applied nowhere. There is no verdict. Exit codes: 0 compared, 2 no such "
        "check or file, 3 they must not or cannot be compared."
    )
    for name, order in (("a", "first"), ("b", "second")):
        parser.add_argument(
            name,
            metavar=name.upper(),
            nargs="?",
            help=f"the {order}: a check's number, as `sentinel checks` shows, or a measurement file, with `#2` behind "
            "it for its second table",
        )
    several = parser.add_mutually_exclusive_group()
    several.add_argument(
        "--across",
        nargs="+",
        metavar="PLACE",
        help="LEFT CENTRE RIGHT, or two to nine places from left to right: numbers of checks, or files",
    )
    several.add_argument(
        "--instruments",
        nargs="+",
        metavar="READING",
        help="A B, or more pairs: each sheet read by the first instrument, then by the second",
    )
    parser.add_argument(
        "--condition",
        metavar="CONDITION",
        help="with --across, the printing condition of the files, which tells the kind of ink and the stock",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_compare)


def _compare(options: argparse.Namespace, room: Composition) -> Exit:
    readings = NamedReadings(room.files, room.reading, lambda: room.archive)
    two = [each for each in (options.a, options.b) if each is not None]
    if options.condition is not None and not options.across:
        raise OperatorError("expected --condition with --across, got it alone")
    if options.across or options.instruments:
        if two:
            raise OperatorError(f"expected all readings behind --across or --instruments, got {shown(two[0])} before")
        return _across(options, room, readings) if options.across else _instruments(options, readings)
    if len(two) < len(("a", "b")):
        raise OperatorError("expected two readings, or --across or --instruments with theirs, got fewer")
    found = compare(*map(readings.named, two))
    if isinstance(found, NotCompared):
        return _refused(options, of_readings(found.why))
    names = shown(options.a), shown(options.b)
    if options.json:
        print(json.dumps(compared_json(options.a, options.b, found.patches, found.figures, found.remarks)))
    else:
        print(compared_text(*names, found.patches, found.figures, found.remarks))
    return Exit.FINE


def _across(options: argparse.Namespace, room: Composition, readings: NamedReadings) -> Exit:
    names = options.across
    if not FEWEST_PLACES <= len(names) <= MOST_PLACES:
        raise OperatorError(f"expected {FEWEST_PLACES} to {MOST_PLACES} places behind --across, got {len(names)}")
    each_once(names)
    policy = None
    if options.condition is not None:
        policy = room.house.conditions[condition_named(room.house, options.condition)]
    elif all(is_number(name) for name in names):
        policy = policy_of_checks(room.house, room.reading(), names)
    held = compare_across([readings.named(name) for name in names], policy)
    if isinstance(held, NotHeldAcross):
        place = held.place
        between = None if place is None else (shown(names[0]), shown(names[place]))
        return _refused(options, of_readings(held.why, between))
    print(json.dumps(across_json(names, held)) if options.json else across_text([shown(each) for each in names], held))
    return Exit.FINE


def _instruments(options: argparse.Namespace, readings: NamedReadings) -> Exit:
    names = options.instruments
    if len(names) % 2:
        raise OperatorError(f"expected pairs of readings behind --instruments, got {len(names)} readings")
    each_once(names)
    pairs = list(zip(names[::2], names[1::2], strict=True))
    told = compare_instruments([(readings.named(first), readings.named(second)) for first, second in pairs])
    if isinstance(told, NotPaired):
        of_pair = "" if told.pair is None or len(pairs) == 1 else f" (pair {told.pair + 1})"
        return _refused(options, of_readings(told.why) + of_pair)
    if options.json:
        print(json.dumps(instruments_json(pairs, told, of_readings)))
    else:
        print(instruments_text([(shown(first), shown(second)) for first, second in pairs], told, of_readings))
    return Exit.FINE


def _refused(options: argparse.Namespace, message: str) -> Exit:
    print(json.dumps({"compared": False, "message": message}) if options.json else f"not compared: {message}")
    return Exit.UNSCORED


COMMANDS: Commands = {"compare": _options}
