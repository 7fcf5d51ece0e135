"""What stands on the measuring table: reads a chart and saves the reading as CGATS text, piece by piece."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from demo.chart import labels, patches
from demo.print_model import INKS, Drift, as_read, reflectance
from demo.simulator.papers import Mode
from demo.simulator.spectra import WAVELENGTHS_NM, FloatArray
from demo.stocks import STOCKS, press
from sentinel.core.measurement.cgats import document_of, spectral_columns, write

SERIAL = "DEMO-0417"

PIECES = 4
PAUSE_SECONDS = 0.05


@dataclass(frozen=True)
class Reading:
    """One reading of one sheet: on which printer and stock it was printed, how long ago and under what it was read."""

    printer: str
    stock: str
    hours_ago: float
    drift: Drift = field(default_factory=Drift)
    m: Mode = "M1"
    seed: int = 1


def exported(reading: Reading) -> bytes:
    """The reading as the text of CGATS.17 that the instrument's software would save."""
    cmyk = patches()
    spectra = reflectance(cmyk, STOCKS[reading.stock], press(reading.printer, reading.drift), reading.m)
    columns: dict[str, list[str] | FloatArray] = {
        "SAMPLE_ID": [str(number) for number in range(1, len(cmyk) + 1)],
        "SAMPLE_LOC": labels(len(cmyk)),
        **{f"CMYK_{ink}": cmyk[:, index] for index, ink in enumerate(INKS)},
        **spectral_columns(WAVELENGTHS_NM, as_read(spectra, reading.seed).round(5)),
    }
    return write(document_of(columns, _header(reading)))


def _header(reading: Reading) -> dict[str, str]:
    measured = datetime.now(UTC) - timedelta(hours=reading.hours_ago)
    return {
        "ORIGINATOR": "Chart reader of the invented print room",
        "DESCRIPTOR": f"Reading on {reading.printer}",
        "CREATED": measured.isoformat(timespec="seconds"),
        "INSTRUMENTATION": "Spectrophotometer on a reading table",
        "INSTRUMENT_SERIAL_NUMBER": SERIAL,
        "MEASUREMENT_GEOMETRY": "45/0",
        "MEASUREMENT_SOURCE": f"D50, {reading.m}",
        "SAMPLE_BACKING": "white",
    }


def save(data: bytes, path: Path) -> None:
    """Writes in place, in pieces with pauses between them, as slow software on a share does."""
    path.parent.mkdir(parents=True, exist_ok=True)
    size = -(-len(data) // PIECES)
    with path.open("wb") as file:
        for start in range(0, len(data), size):
            file.write(data[start : start + size])
            file.flush()
            time.sleep(PAUSE_SECONDS)
