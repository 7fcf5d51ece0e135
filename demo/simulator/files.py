"""Readings as the CGATS.17 text an instrument's software would save."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from demo.simulator.charts import Chart
from demo.simulator.papers import Mode
from demo.simulator.spectra import WAVELENGTHS_NM, FloatArray, lab_of
from sentinel.core.measurement.cgats import document_of, spectral_columns, write

Values = Literal["spectra", "Lab"]


@dataclass(frozen=True, slots=True)
class Export:
    """What the software writes: which values, whether places, what it says of the mode (None: nothing)."""

    values: Values = "spectra"
    places: bool = True
    mode: Mode | None = "M1"
    serial: str = "SIM-0001"
    created: str = "2025-03-04T10:15:00+00:00"


def field_names(inks: tuple[str, ...]) -> list[str]:
    """Names of the device columns: `CMYKOG_O` where every ink has a capital letter, else by channel, `6CLR_5`."""
    if all(len(ink) == 1 for ink in inks):
        return [f"{''.join(inks)}_{ink}" for ink in inks]
    return [f"{len(inks)}CLR_{number}" for number in range(1, len(inks) + 1)]


def names_in_file(inks: tuple[str, ...]) -> tuple[str, ...]:
    """The inks as a reader of the file will call them."""
    return inks if all(len(ink) == 1 for ink in inks) else tuple(field_names(inks))


def cgats(chart: Chart, spectra: FloatArray, export: Export) -> str:
    """The text of a reading: spectra (patches, bands) in the order of the chart's patches."""
    columns: dict[str, list[str] | FloatArray] = {"SAMPLE_ID": [str(number + 1) for number in range(len(chart))]}
    if export.places:
        columns["SAMPLE_LOC"] = chart.labels
    columns |= {name: chart.device[:, ink] for ink, name in enumerate(field_names(chart.inks))}
    if export.values == "spectra":
        columns |= spectral_columns(WAVELENGTHS_NM, spectra.round(4))
    else:
        columns |= {f"LAB_{axis}": values for axis, values in zip("LAB", lab_of(spectra).round(2).T, strict=True)}
    return write(document_of(columns, _header(export))).decode()


def _header(export: Export) -> dict[str, str]:
    header = {
        "ORIGINATOR": "Simulated print room",
        "CREATED": export.created,
        "INSTRUMENTATION": "Spectrophotometer on a reading table",
        "INSTRUMENT_SERIAL_NUMBER": export.serial,
        "MEASUREMENT_GEOMETRY": "45/0",
        "SAMPLE_BACKING": "white",
    }
    if export.values == "Lab":
        header["WEIGHTING_FUNCTION"] = "ILLUMINANT, D50"
    if export.mode:
        header["MEASUREMENT_SOURCE"] = f"D50, {export.mode}"
    return header
