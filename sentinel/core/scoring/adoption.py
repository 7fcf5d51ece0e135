"""An aim taken from readings of one chart: their mean without what was misread, and the CGATS.17 file that says so."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.measurement import Chart, Measurement, MeasurementCondition
from sentinel.core.measurement.cgats import Column, document_of, spectral_columns, write
from sentinel.core.message import Message, msg
from sentinel.core.scoring.averaging import Counts, ToLab, averaged, colour_source
from sentinel.core.scoring.matching import KeyKind, key_kind, keys_of
from sentinel.core.verdict import Code, Unscored

Mask = npt.NDArray[np.bool_]
Quantity = Literal["reflectance", "Lab", "XYZ"]
_Keys = list[Hashable | None]

# Iglewicz and Hoaglin, How to Detect and Handle Outliers (1993), as the NIST/SEMATECH e-Handbook of Statistical
# Methods, 1.3.5.17, gives it: the modified Z-score 0.6745 (x - median) / MAD beyond 3.5 is an outlier.
NORMAL_QUARTILE = 0.6745
MODIFIED_Z = 3.5

LEAST_READINGS = 3
"""Of two readings that differ nobody can tell which is wrong."""

LEAST_OUTLYING = 1.0
"""CIEDE2000. Of three readings two may agree by chance, and the third is then many MADs off without being wrong; below
a difference that is hardly seen nothing is rejected. Ours, no published source."""

ADOPTED_FROM = "ADOPTED_FROM"
"""The keyword of an adopted aim that tells its checks, separated by `;`."""


def sheets_of(aim: Measurement, declared: float | None) -> float:
    """Of how many sheets an aim is the mean: as declared (infinite for one that does not stray, as published data),
    else as many as it was adopted from, else one."""
    if declared is not None:
        return declared
    return float(len(aim.keywords.get(ADOPTED_FROM, "").split(";")))


RULE = (
    f"a reading whose CIEDE2000 difference d from the patch's median colour is beyond {LEAST_OUTLYING:g} and has "
    f"{NORMAL_QUARTILE} d / MAD beyond {MODIFIED_Z} (Iglewicz and Hoaglin 1993), of {LEAST_READINGS} readings or more"
)


@dataclass(frozen=True, slots=True)
class Rejected:
    """A reading left out: of which sample, counted from 0, of which patch, how far from the patch's median colour."""

    sample: int
    label: str
    de00: float


@dataclass(frozen=True, slots=True, eq=False)
class Adopted:
    """The mean of several readings of a chart.

    `values` is (n, bands) with 1.0 for the perfect diffuser, or (n, 3); `wavelengths` (bands,) in nm, for reflectance
    alone. `readings` (n,) counts those in each mean; `mean_de00` and `max_de00` (n,) are their CIEDE2000 differences
    from it, 0 for a single one. `missing` counts readings that were not there, `unread` names patches that no sample
    holds whole and that are therefore left out.
    """

    quantity: Quantity
    wavelengths: FloatArray | None
    values: FloatArray
    chart: Chart
    readings: Counts
    mean_de00: FloatArray
    max_de00: FloatArray
    rejected: tuple[Rejected, ...]
    missing: int
    unread: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Source:
    """What is averaged: (rows, k) of each sample, and the way from there to Lab."""

    quantity: Quantity
    wavelengths: FloatArray | None
    values: list[FloatArray]
    to_lab: ToLab


def adopt(samples: Sequence[Measurement]) -> Adopted:
    """The mean of readings of one chart, one or more: of reflectance where all have the same bands, else of XYZ where
    none has anything else, else of Lab.

    Raises Unscored where the charts differ or the colours are not for D50 and 2 degrees, SpectrumError for
    wavelengths that no colour can come from.
    """
    keys = _common_keys([sample.chart for sample in samples])
    source = _source(samples)
    places: dict[Hashable, int] = {}
    for row, key in enumerate(keys[0]):
        if key is not None:
            places.setdefault(key, row)
    readings = np.array([_means(values, own, list(places)) for values, own in zip(source.values, keys, strict=True)])
    for values, sample, own in zip(readings, samples, keys, strict=True):
        apart = _apart(sample, own)
        values[[key in apart for key in places]] = np.nan
    read = ~np.isnan(readings).any(axis=2)
    known = read.any(axis=0)
    if not known.any():
        raise Unscored(Code.NO_READINGS, msg("expected at least one patch with all its values, got none"))
    first = np.array(list(places.values()))
    names = samples[0].chart.names or samples[0].chart.ids
    return _mean(
        source,
        readings[:, known],
        _rows(samples[0].chart, first[known]),
        unread=tuple(names[row] for row in first[~known].tolist()),
    )


def _apart(sample: Measurement, keys: _Keys) -> set[Hashable]:
    """The patches whose readings on this sheet cannot be of one patch: they count as not read."""
    patches = averaged(sample, keys)
    return {patches.keys[row] for row in np.flatnonzero(patches.apart)}


def _mean(source: _Source, readings: FloatArray, chart: Chart, unread: tuple[str, ...]) -> Adopted:
    """`readings` is (samples, n, k), NaN where a sample did not read a patch."""
    lab = _lab(readings, source.to_lab)
    off = from_median(lab)
    out = outlying(off)
    there = ~np.isnan(off)
    kept = there & ~out
    values = np.nanmean(np.where(kept[:, :, None], readings, np.nan), axis=0)
    away = np.where(kept, _from(source.to_lab(values), lab), np.nan)
    names = chart.names or chart.ids
    return Adopted(
        quantity=source.quantity,
        wavelengths=source.wavelengths,
        values=values,
        chart=chart,
        readings=kept.sum(axis=0),
        mean_de00=np.nanmean(away, axis=0),
        max_de00=np.nanmax(away, axis=0),
        rejected=tuple(Rejected(s, names[p], float(off[s, p])) for s, p in np.argwhere(out).tolist()),
        missing=int(np.count_nonzero(~there)),
        unread=unread,
    )


def from_median(lab: FloatArray) -> FloatArray:
    """CIEDE2000 difference (samples, n) of each reading from its patch's median L*, a*, b*.

    `lab` is (samples, n, 3), NaN for a reading that is not there; each patch needs one.
    """
    return _from(np.nanmedian(lab, axis=0), lab)


def outlying(off: FloatArray) -> Mask:
    """Which readings are outliers by `RULE`: (samples, n), as `off`, their differences from the median.

    At least half of a patch's readings always stay, since half are no farther off than the MAD.
    """
    mad = np.nanmedian(off, axis=0)
    enough = np.count_nonzero(~np.isnan(off), axis=0) >= LEAST_READINGS
    far = (off > LEAST_OUTLYING) & (NORMAL_QUARTILE * off > MODIFIED_Z * mad)
    rejected: Mask = far & enough
    return rejected


def _from(centre: FloatArray, lab: FloatArray) -> FloatArray:
    """CIEDE2000 of `lab` (samples, n, 3) from `centre` (n, 3)."""
    pairs = np.broadcast_to(centre, lab.shape).reshape(-1, 3)
    return de00(pairs, lab.reshape(-1, 3)).reshape(lab.shape[:2])


def _lab(readings: FloatArray, to_lab: ToLab) -> FloatArray:
    samples, patches, width = readings.shape
    return to_lab(readings.reshape(-1, width)).reshape(samples, patches, 3)


def _means(values: FloatArray, keys: _Keys, patches: list[Hashable]) -> FloatArray:
    """The mean (n, k) of each patch's whole rows; NaN where there is none."""
    place = {key: number for number, key in enumerate(patches)}
    whole = np.asarray(~np.isnan(values).any(axis=1)).tolist()
    rows = np.array([row for row, key in enumerate(keys) if key is not None and whole[row]], dtype=np.intp)
    group = np.array([place[keys[row]] for row in rows.tolist()], dtype=np.intp)
    sums = np.zeros((len(patches), values.shape[1]))
    np.add.at(sums, group, values[rows])
    count = np.bincount(group, minlength=len(patches)).astype(float)
    count[count == 0] = np.nan
    means: FloatArray = sums / count[:, None]
    return means


def _source(samples: Sequence[Measurement]) -> _Source:
    sources = [colour_source(sample) for sample in samples]
    values, to_lab = [values for values, _ in sources], sources[0][1]
    bands = [sample.wavelengths for sample in samples]
    if bands[0] is not None and all(own is not None and np.array_equal(own, bands[0]) for own in bands):
        return _Source("reflectance", bands[0], values, to_lab)
    if all(sample.reflectance is None and sample.lab is None for sample in samples):
        return _Source("XYZ", None, values, to_lab)
    return _Source("Lab", None, [own_to_lab(own) for own, own_to_lab in sources], lambda lab: lab)


def _common_keys(charts: Sequence[Chart]) -> list[_Keys]:
    """One key a row of each chart, alike for the same patch. Raises Unscored where the charts hold other patches."""
    by = _common_kind(charts)
    keys = [keys_of(chart, by, charts[0].inks) for chart in charts]
    first = set(keys[0]) - {None}
    for own in keys[1:]:
        other = set(own) - {None}
        if other != first:
            message = OTHER_CHART[by].format(first=len(first), second=len(other), same=len(first & other))
            raise Unscored(Code.CHART_MISMATCH, message)
    return keys


OTHER_CHART: Mapping[KeyKind, Message] = {
    "device values": msg(
        "expected checks of one chart, got {first} patches and {second} patches, of "
        "which {same} patches have the same device values"
    ),
    "names": msg(
        "expected checks of one chart, got {first} patches and {second} patches, of "
        "which {same} patches have the same names"
    ),
    "ids": msg(
        "expected checks of one chart, got {first} patches and {second} patches, of "
        "which {same} patches have the same ids"
    ),
}


def _common_kind(charts: Sequence[Chart]) -> KeyKind:
    kinds = {key_kind(charts[0], chart) for chart in charts}
    if kinds == {"device values"}:
        return "device values"
    return "names" if all(any(chart.names or ()) for chart in charts) else "ids"


def _rows(chart: Chart, rows: Counts) -> Chart:
    chosen = rows.tolist()
    names = tuple(chart.names[row] for row in chosen) if chart.names else None
    return Chart(tuple(chart.ids[row] for row in chosen), names, chart.inks, chart.device[rows])


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
