"""The arrays that measurements, colours and series are made of."""

from __future__ import annotations

import zlib

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.intp]
Rows = IntArray
"""Numbers of rows."""


def packed(values: FloatArray) -> bytes:
    """An array as compressed bytes; its shape is not kept."""
    return zlib.compress(np.ascontiguousarray(values, dtype="<f8").tobytes())


def unpacked(kept: bytes, columns: int) -> FloatArray:
    """The same again: (n, columns)."""
    return np.frombuffer(zlib.decompress(kept), dtype="<f8").reshape(-1, columns).astype(np.float64)
