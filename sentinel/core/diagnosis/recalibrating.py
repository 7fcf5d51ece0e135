"""What recalibrating would bring, beside the findings that it helps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sentinel.core.diagnosis.findings import Finding
from sentinel.core.diagnosis.subject import Subject
from sentinel.core.recalibration.forecast import Band, Forecast, recalibration_forecast
from sentinel.core.recalibration.refusal import NoForecast
from sentinel.core.recalibration.terms import Terms


def foretold(findings: Sequence[Finding], subject: Subject, terms: Terms) -> tuple[Finding, ...]:
    """The findings, those that recalibrating helps with one forecast for them all: it mends every ink at once.

    Nothing is worked out where none is helped; a chart that allows no forecast leaves them as they are.
    """
    if not any(each.recalibration_helps for each in findings):
        return tuple(findings)
    forecast = recalibration_forecast(subject.readings, terms)
    if isinstance(forecast, NoForecast):
        return tuple(findings)
    told = _told(forecast)
    return tuple(
        replace(each, predicted={**each.predicted, "recalibrated": told}) if each.recalibration_helps else each
        for each in findings
    )


def _told(forecast: Forecast) -> dict[str, Any]:
    """Rounded as the other figures of a finding are."""
    return {
        "de00_mean": _band(forecast.mean),
        "de00_p95": _band(forecast.p95),
        "de00_max": _band(forecast.maximum),
        "confidence": 0.9,
        "remains": [{"what": part.what, "ink": part.ink, "de00": round(part.de00, 2)} for part in forecast.remains],
    }


def _band(band: Band) -> dict[str, float]:
    return {name: round(value, 2) for name, value in band.as_json().items()}
