"""A recalibration foretold, as text and as JSON: the forecast first, then what remains, then the cautions."""

from __future__ import annotations

from typing import Any

from tabulate import tabulate

from sentinel.core.recalibration.curve import Curve
from sentinel.core.recalibration.files import Origin, statements
from sentinel.core.recalibration.forecast import Forecast
from sentinel.core.recalibration.refusal import NoForecast
from sentinel.core.recalibration.remains import Remains
from sentinel.render.advice import confirming

CURVES_SCHEMA = "sentinel.curves/1"
SHOWN = (10, 25, 50, 75, 90, 100)
_REMAINS = {
    "paper": "the paper's shade, which no ink curve moves: ΔE00 {de00:.2f} of the bare paper",
    "solid": "the solid of {ink}, too weak for any curve: ΔE00 {de00:.2f}",
    "overprints": "overprints, which curves of single inks do not set right: ΔE00 {de00:.2f} beyond noise",
    "noise": "sheet-to-sheet noise of the aim and of a new print: a mean ΔE00 of {de00:.2f} by itself",
}


def curves_text(origin: Origin, forecast: Forecast) -> str:
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
            *_curves(forecast.curves),
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


def curves_json(origin: Origin, forecast: Forecast) -> dict[str, Any]:
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


def _figures(forecast: Forecast) -> str:
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


def _curves(curves: tuple[Curve, ...]) -> list[str]:
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
