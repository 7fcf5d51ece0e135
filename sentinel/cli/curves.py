"""`sentinel curves`: what recalibrating would bring for a recorded check, and the curves for it."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from sentinel.application.recalibrating import Recalibrating
from sentinel.application.sources import write_new
from sentinel.cli.command import Commands, Exit, Parser, positive
from sentinel.core.recalibration.curves import Curve, Origin, Remains, curves_cgats, curves_csv, statements
from sentinel.core.recalibration.forecast import NoForecast, RecalibrationForecast
from sentinel.render.remedies import confirming

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


CURVES_SCHEMA = "sentinel.curves/1"
SHOWN = (10, 25, 50, 75, 90, 100)
_REMAINS = {
    "paper": "the paper's shade, which no ink curve moves: ΔE00 {de00:.2f} of the bare paper",
    "solid": "the solid of {ink}, too weak for any curve: ΔE00 {de00:.2f}",
    "overprints": "overprints, which curves of single inks do not set right: ΔE00 {de00:.2f} beyond noise",
    "noise": "sheet-to-sheet noise of the aim and of a new print: a mean ΔE00 of {de00:.2f} by itself",
}


def curves_text(origin: Origin, forecast: RecalibrationForecast) -> str:
    """For people."""
    return "\n".join(
        [
            f"check {origin.check} of {origin.condition} against {origin.target}",
            "",
            _figures(forecast),
            "",
            "What remains, and why:",
            *(f"- {_remains(part)}" for part in forecast.remains),
            "",
            *_curve_lines(forecast.curves),
            *_without(forecast.without_curve),
            "",
            "Before any of this is used, in this order:",
            *(f"- {step}" for step in confirming(None)),
            "",
            *(f"- {line}" for line in statements(origin)),
        ]
    )


def none_text(origin: Origin, refusal: NoForecast) -> str:
    """For people."""
    return f"check {origin.check} of {origin.condition}: nothing foretold: {refusal.reason}"


def curves_json(origin: Origin, forecast: RecalibrationForecast) -> dict[str, Any]:
    """The same, whole, with every point of every curve."""
    return {
        **_head(origin, foretold=True),
        **forecast.as_json(),
        "curves": [
            {"ink": curve.ink, "straight": curve.straight, "asked": curve.asked.tolist(), "sent": curve.sent.tolist()}
            for curve in forecast.curves
        ],
        "first": [str(step) for step in confirming(None)],
        "statements": list(statements(origin)),
        "approved_by": None,
    }


def none_json(origin: Origin, refusal: NoForecast) -> dict[str, Any]:
    """Why there is nothing."""
    return {**_head(origin, foretold=False), "message": refusal.reason}


def _head(origin: Origin, *, foretold: bool) -> dict[str, Any]:
    return {
        "schema": CURVES_SCHEMA,
        "check": origin.check,
        "condition": origin.condition,
        "target": origin.target,
        "foretold": foretold,
    }


def _figures(forecast: RecalibrationForecast) -> str:
    now = forecast.now
    rows = [
        (name, f"{before:.2f}", f"{band.expected:.2f}", f"{band.low:.2f} to {band.high:.2f}")
        for name, before, band in (
            ("mean ΔE00", now.mean, forecast.mean),
            ("95th percentile", now.p95, forecast.p95),
            ("maximum", now.maximum, forecast.maximum),
        )
    ]
    head = ("", "now", "expected", "in 90 of 100 cases")
    return tabulate(rows, headers=head, tablefmt="simple", disable_numparse=True, colalign=("left", *["right"] * 3))


def _remains(part: Remains) -> str:
    return _REMAINS[part.what].format(ink=part.ink, de00=part.de00)


def _curve_lines(curves: tuple[Curve, ...]) -> list[str]:
    bent = [curve for curve in curves if not curve.straight]
    if not bent:
        return [
            "Every tone scale is within noise of its aim: the curves are straight, recalibrating would bring nothing."
        ]
    rows = [(curve.ink, *(f"{float(curve(asked)):.1f}" for asked in SHOWN)) for curve in bent]
    head = ("send, for", *(f"{asked} %" for asked in SHOWN))
    table = tabulate(rows, headers=head, tablefmt="simple", disable_numparse=True, colalign=("left", *["right"] * 6))
    still = [curve.ink for curve in curves if curve.straight]
    return [table, *([f"Within noise, and left as they are: {', '.join(still)}."] if still else [])]


def _without(inks: tuple[str, ...]) -> list[str]:
    return [f"Without a tone scale in this chart, so without a curve: {', '.join(inks)}."] if inks else []


def _options(parser: Parser) -> None:
    parser.description = (
        "Foretells what a chart would show if each ink's tone scale were brought back to its aim, and "
        "writes the curves on request, to be signed by a person. For charts printed with colour management off. Exit "
        "codes: 0 foretold, 2 no such check, or a file that cannot be read or written, 3 nothing can be foretold from "
        "this chart."
    )
    parser.add_argument("check", type=positive, metavar="CHECK", help="its number, as `sentinel checks` shows")
    parser.add_argument("--target", type=Path, metavar="FILE", help="this aim in place of the one it was scored with")
    parser.add_argument("--csv", type=Path, metavar="OUT", help="write the curves as CSV; nothing is overwritten")
    parser.add_argument("--cgats", type=Path, metavar="OUT", help="write them as CGATS text; nothing is overwritten")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_curves)


def _curves(options: argparse.Namespace, room: Composition) -> Exit:
    terms = room.settings.recalibration.terms
    recalibrating = Recalibrating(room.records, room.archive, room.files, terms, room.house)
    foretold = recalibrating.foretold(options.check, options.target)
    origin, found = foretold.origin, foretold.found
    if isinstance(found, NoForecast):
        print(json.dumps(none_json(origin, found)) if options.json else none_text(origin, found))
        return Exit.UNSCORED
    if options.csv is not None:
        _written(room, options.csv, curves_csv(found.curves, origin).encode())
    if options.cgats is not None:
        _written(room, options.cgats, curves_cgats(found.curves, origin))
    print(json.dumps(curves_json(origin, found)) if options.json else curves_text(origin, found))
    return Exit.FINE


def _written(room: Composition, place: Path, data: bytes) -> None:
    write_new(room.files, place, data)
    print(f"written to {place}: not in force before a person has signed it", file=sys.stderr)


COMMANDS: Commands = {"curves": _options}
