"""`sentinel compare`: any two readings held against each other, without limits and without a verdict."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit
from sentinel.errors import OperatorError

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands
    from sentinel.core.cgats.measurement import Measurement


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
    from sentinel.core.colour.errors import SpectrumError
    from sentinel.core.reasons import Unscored
    from sentinel.core.scoring.gates import comparable
    from sentinel.core.scoring.matching import match
    from sentinel.core.scoring.metrics import figures_of
    from sentinel.core.scoring.reckoning import Reckoning
    from sentinel.render.compare import compared_json, compared_text, of_readings

    first, second = (_reading(text, options.config) for text in (options.a, options.b))
    try:
        remarks = comparable(first.condition, second.condition, unknown_m_scored=True)
        pairs = match(first, second)
    except (Unscored, SpectrumError) as refusal:
        message = of_readings(refusal.reason.message if isinstance(refusal, Unscored) else refusal.sentence)
        print(json.dumps({"compared": False, "message": message}) if options.json else f"not compared: {message}")
        return Exit.UNSCORED
    figures = figures_of(pairs, Reckoning())
    if options.json:
        print(json.dumps(compared_json(options.a, options.b, len(pairs), figures, remarks)))
    else:
        print(compared_text(options.a, options.b, len(pairs), figures, remarks))
    return Exit.FINE


def _reading(text: str, config: Path) -> Measurement:
    return _recorded(int(text), config) if text.isdecimal() else _from_file(text)


def _recorded(seq: int, config: Path) -> Measurement:
    from sentinel.adapters.archive import Archive
    from sentinel.adapters.store.store import StoreView
    from sentinel.cli.sources import archived, recorded_check
    from sentinel.settings.loading import load

    settings = load(config).settings
    record = recorded_check(StoreView(settings.store.path, settings.site.name), seq)
    return archived(Archive(settings.folders.archive), record.sha256, record.table, f"check {seq}")


def _from_file(text: str) -> Measurement:
    from sentinel.cli.sources import file_bytes
    from sentinel.core.cgats import measurements, read
    from sentinel.settings.place import LARGEST_MB

    name, mark, table = text.rpartition("#")
    if not (mark and table.isdecimal() and not Path(text).exists()):
        name, table = text, "1"
    found = measurements(read(file_bytes(Path(name), LARGEST_MB, "a measurement file")))
    if not 1 <= int(table) <= len(found):
        raise OperatorError(f"expected a table of the {len(found)} in {name}, got {table}")
    return found[int(table) - 1]
