"""An adopted aim as a CGATS.17 file that says where it is from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sentinel.core.cgats import document_of, spectral_columns, write
from sentinel.core.cgats.building import Column
from sentinel.core.cgats.measurement import Measurement
from sentinel.core.measurement_condition import MeasurementCondition
from sentinel.core.scoring.adopting import Adopted

_PROCESS = "CMYK"


def adopted_file(
    adopted: Adopted, samples: Sequence[Measurement], condition: MeasurementCondition, keywords: Mapping[str, str]
) -> bytes:
    """The file's bytes: the mean values, and beside each patch its number of readings and their spread.

    `condition` is what all samples were read under; of the rest of their headers that is kept in which they agree.
    Raises ValueError for text with control characters.
    """
    chart = adopted.chart
    columns: dict[str, Column] = {
        "SAMPLE_ID": chart.ids,
        **({"SAMPLE_NAME": chart.names} if chart.names else {}),
        **{field: chart.device[:, column] for column, field in enumerate(_device_fields(chart.inks))},
        **_value_columns(adopted),
        "READINGS": adopted.readings.astype(float),
        "MEAN_DE": adopted.mean_de00,
        "MAX_DE": adopted.max_de00,
    }
    return write(document_of(columns, {**_read_with(samples), **_read_under(condition, adopted), **keywords}))


def _device_fields(inks: Sequence[str]) -> list[str]:
    if any("CLR_" in ink for ink in inks):
        return list(inks)
    process = "RGB" if set(inks) == set("RGB") else "".join(ink for ink in _PROCESS if ink in inks)
    model = process + "".join(ink for ink in inks if ink not in process)
    return [f"{model}_{ink}" for ink in inks]


def _value_columns(adopted: Adopted) -> dict[str, Column]:
    if adopted.wavelengths is not None:
        return dict(spectral_columns(adopted.wavelengths, adopted.values))
    fields = ("LAB_L", "LAB_A", "LAB_B") if adopted.quantity == "Lab" else ("XYZ_X", "XYZ_Y", "XYZ_Z")
    return {field: adopted.values[:, column] for column, field in enumerate(fields)}


def _read_under(condition: MeasurementCondition, adopted: Adopted) -> dict[str, str]:
    light = {} if adopted.wavelengths is not None else {"ILLUMINANT": "D50", "OBSERVER": "2"}
    said = {
        "MEASUREMENT_SOURCE": condition.m and f"ISO 13655 {condition.m}",
        "SAMPLE_BACKING": condition.backing,
        "FILTER": condition.filter,
        "MEASUREMENT_GEOMETRY": condition.geometry,
    }
    return {**{keyword: value for keyword, value in said.items() if value}, **light}


def _read_with(samples: Sequence[Measurement]) -> dict[str, str]:
    instruments, serials = ({getattr(s, part) for s in samples} for part in ("instrument", "serial"))
    said = {"INSTRUMENTATION": instruments, "INSTRUMENT_SERIAL_NUMBER": serials}
    return {keyword: value for keyword, (value, *others) in said.items() if value and not others}
