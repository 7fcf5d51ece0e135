"""What is in a file, what the reader made of it, and the clean file written anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from sentinel.application.sources import file_bytes
from sentinel.core.colour.bands import SpectrumError
from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import Survey, survey, write
from sentinel.core.scoring.averaging import averaged
from sentinel.core.scoring.groups import groups
from sentinel.core.scoring.matching import key_kind, keys_of
from sentinel.core.verdict import Unscored
from sentinel.errors import AdminError
from sentinel.ports import Files
from sentinel.settings.site import LARGEST_MB


@dataclass(frozen=True, slots=True)
class Inspected:
    """A file's bytes, and what was read of them past every fault."""

    data: bytes
    survey: Survey


@dataclass(frozen=True, slots=True)
class Contents:
    """What figures of a table would stand on: distinct patches, how many of them were read more than once, and the
    patches of each group by the colours that were read. Nothing of it where no figure can stand on the table."""

    patches: int = 0
    repeated: int = 0
    groups: Mapping[str, int] = field(default_factory=dict)


def contents_of(measurement: Measurement) -> Contents:
    """A chart's patches by the part they play; an aim's own colours decide when it is scored."""
    chart = measurement.chart
    try:
        found = averaged(measurement, keys_of(chart, key_kind(chart, chart), chart.inks))
    except (Unscored, SpectrumError):
        return Contents()
    labels = chart.names or chart.ids
    masks = groups(
        chart.inks,
        chart.device[found.first],
        found.lab,
        [labels[row] for row in found.first.tolist()],
    )
    counts = {group: int(mask.sum()) for group, mask in masks.items()}
    return Contents(len(found.keys), int((found.count > 1).sum()), counts)


def inspect_file(files: Files, path: Path) -> Inspected:
    """Needs no settings. Raises AdminError where the file cannot be had."""
    data = file_bytes(files, path, LARGEST_MB, "a measurement file")
    return Inspected(data, survey(data))


def rewrite_file(files: Files, out: Path, inspected: Inspected) -> None:
    """Writes the clean file of one that has no fault. Raises AdminError where it cannot be written."""
    try:
        files.write_new(out, write(inspected.survey.document))
    except OSError as fault:
        raise AdminError(f"expected a new file to be written at {out}, got: {fault.strerror}") from None
