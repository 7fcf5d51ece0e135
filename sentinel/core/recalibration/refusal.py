"""Which charts no recalibration can be foretold from, and why."""

from __future__ import annotations

from dataclasses import dataclass

from sentinel.core.recalibration.inks import has_tone_scale
from sentinel.core.recalibration.subject import Readings

RGB = frozenset("RGB")


@dataclass(frozen=True, slots=True)
class NoForecast:
    """Why there is none, in a sentence."""

    reason: str


def refused(readings: Readings) -> NoForecast | None:
    """None where a forecast can be made."""
    reason = _of_path(readings) or _of_amounts(readings)
    return NoForecast(reason) if reason else None


def _of_path(readings: Readings) -> str | None:
    if not readings.ink_space:
        return "expected a chart printed with colour management off, got one printed through a profile"
    if not readings.inks:
        return "expected a chart with its ink amounts, got one without any device values"
    if set(readings.inks) <= RGB:
        return "expected a chart of inks, got R, G and B, which the printer's software turns into inks"
    return None


def _of_amounts(readings: Readings) -> str | None:
    device = readings.device
    if not ((device >= 0) & (device <= 100)).all():
        return "expected every ink amount between 0 and 100 %, got others or none"
    if not (device == 0).all(axis=1).any():
        return "expected a patch of bare paper in the chart, got none"
    if not any(has_tone_scale(device, column) for column in range(device.shape[1])):
        return "expected the tone scale of at least one ink, its solid and two steps below, got none"
    return None
