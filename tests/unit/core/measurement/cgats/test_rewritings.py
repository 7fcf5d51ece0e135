"""Every way of writing a reading down that leaves its meaning alone reads to the same measurement."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import measurements, read
from tests.support.amount import amount
from tests.unit.core.measurement.cgats.readings import Reading, readings, render, styles

EXAMPLES = amount(60, long=300, by_hand="SENTINEL_CGATS_EXAMPLES")


def same(values: npt.NDArray[np.float64] | None, expected: npt.NDArray[np.float64] | None, scaled: bool) -> bool:
    """Equal, with missing values in the same places; to the last bit but one where the text was in another scale."""
    if values is None or expected is None:
        return values is expected
    if scaled:
        return values.shape == expected.shape and np.allclose(values, expected, rtol=1e-15, atol=0, equal_nan=True)
    return np.array_equal(values, expected, equal_nan=True)


def assert_is(measurement: Measurement, reading: Reading, scaled: bool = True) -> None:
    """The measurement says what was measured."""
    assert measurement.chart.ids == tuple(reading.ids)
    assert measurement.chart.names == (None if reading.names is None else tuple(reading.names))
    device = reading.array(reading.device)
    order = {ink: index for index, ink in enumerate(measurement.chart.inks)}
    assert set(order) == (set("CMYK") if reading.device else set())
    if device is not None:
        assert same(measurement.chart.device[:, [order[ink] for ink in "CMYK"]], device, False)
    assert same(measurement.lab, reading.array(reading.lab), False)
    assert same(measurement.xyz, reading.array(reading.xyz), scaled)
    expected = None if reading.gives_way else reading.array(reading.reflectance)
    assert same(measurement.reflectance, expected, scaled)
    wavelengths = np.array(reading.wavelengths, np.float64) if reading.wavelengths else None
    assert same(measurement.wavelengths, None if reading.gives_way else wavelengths, False)
    assert measurement.condition.m == reading.keywords["MEASUREMENT_GEOMETRY"][-2:]


@settings(max_examples=EXAMPLES, deadline=None)
@given(st.data())
def test_every_rewriting_reads_to_the_same_measurement(data: st.DataObject) -> None:
    reading = data.draw(readings())
    style = data.draw(styles(reading))
    (measurement,) = measurements(read(render(reading, style)))
    assert_is(measurement, reading)
