"""`sentinel curves`: what recalibrating would bring for a recorded check, and the curves for it."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands
    from sentinel.core.cgats.measurement import Measurement
    from sentinel.core.recalibration.files import Origin
    from sentinel.core.recalibration.forecast import Forecast
    from sentinel.core.recalibration.subject import Readings
    from sentinel.core.records import RecordedCheck
    from sentinel.settings.models import Settings


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "curves",
        help="what recalibrating would bring, and curves for it",
        description="Foretells what a chart would show if each ink's tone scale were brought back to its aim, and "
        "writes the curves on request, to be signed by a person. For charts printed with colour management off. Exit "
        "codes: 0 foretold, 2 no such check, or a file that cannot be read or written, 3 nothing can be foretold from "
        "this chart.",
    )
    parser.add_argument("check", type=int, metavar="CHECK", help="its number, as `sentinel checks` shows")
    parser.add_argument("--target", type=Path, metavar="FILE", help="this aim in place of the one it was scored with")
    parser.add_argument("--csv", type=Path, metavar="OUT", help="write the curves as CSV; nothing is overwritten")
    parser.add_argument("--cgats", type=Path, metavar="OUT", help="write them as CGATS text; nothing is overwritten")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_curves)


def _curves(options: argparse.Namespace) -> Exit:
    from sentinel.core.colour.errors import SpectrumError
    from sentinel.core.reasons import Unscored
    from sentinel.core.recalibration.files import curves_cgats, curves_csv
    from sentinel.core.recalibration.forecast import recalibration_forecast
    from sentinel.core.recalibration.refusal import NoForecast
    from sentinel.core.verdict import Verdict
    from sentinel.render.curves import curves_json, curves_text, none_json, none_text
    from sentinel.render.ladder import answered, forbidding
    from sentinel.render.notices.english import CAUSES
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    record = _record(settings, options.check)
    origin = _origin(record, options.target)
    found: Forecast | NoForecast
    try:
        if record.verdict is Verdict.UNSCORED:
            found = NoForecast("expected a check with a verdict, got one whose stock or patch order is in doubt")
        else:
            found = recalibration_forecast(_readings(settings, record, options.target), settings.recalibration.terms)
    except (Unscored, SpectrumError) as refusal:
        found = NoForecast(str(refusal))
    if not isinstance(found, NoForecast) and (causes := forbidding(answered(record.diagnosis))):
        words = " or ".join(str(CAUSES.get(cause, cause)) for cause in causes)
        found = NoForecast(f"expected figures that speak of the printer, got some that point to {words}")
    if isinstance(found, NoForecast):
        print(json.dumps(none_json(origin, found)) if options.json else none_text(origin, found))
        return Exit.UNSCORED
    print(json.dumps(curves_json(origin, found)) if options.json else curves_text(origin, found))
    if options.csv is not None:
        _written(options.csv, curves_csv(found.curves, origin).encode())
    if options.cgats is not None:
        _written(options.cgats, curves_cgats(found.curves, origin))
    return Exit.FINE


def _record(settings: Settings, seq: int) -> RecordedCheck:
    from sentinel.adapters.store.store import StoreView
    from sentinel.cli.sources import recorded_check

    return recorded_check(StoreView(settings.store.path, settings.site.name), seq)


def _origin(record: RecordedCheck, target: Path | None) -> Origin:
    from sentinel.core.recalibration.files import Origin

    return Origin(record.seq, record.condition, record.file_name, str(target) if target else record.target)


def _readings(settings: Settings, record: RecordedCheck, target: Path | None) -> Readings:
    from sentinel.adapters.archive import Archive
    from sentinel.cli.sources import archived
    from sentinel.core.recalibration.pairing import readings_of

    archive = Archive(settings.folders.archive)
    aim = (
        _from_file(target)
        if target
        else archived(archive, record.target_hash, record.target_table, f"the target {record.target}")
    )
    sample = archived(archive, record.sha256, record.table, record.file_name)
    return readings_of(aim, sample, ink_space=record.reckoning.ink_space, ink_names=record.reckoning.ink_names)


def _from_file(target: Path) -> Measurement:
    from sentinel.cli.sources import file_bytes
    from sentinel.core.cgats import measurements, read
    from sentinel.settings.place import LARGEST_MB

    return measurements(read(file_bytes(target, LARGEST_MB, "a target file")))[0]


def _written(place: Path, data: bytes) -> None:
    try:
        with place.open("xb") as file:
            file.write(data)
    except OSError as fault:
        raise AdminError(f"expected a place for a new file at {place}, got: {fault.strerror}") from None
    print(f"written to {place}: not in force before a person has signed it", file=sys.stderr)
