"""Patch values as they are kept: little-endian float64 arrays, compressed, and a hash that names a chart."""

from __future__ import annotations

import hashlib
import json
import zlib

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.records import ChartRecord
from sentinel.core.scoring.matching import Match


def packed(values: FloatArray) -> bytes:
    """An array as compressed bytes; its shape is not kept."""
    return zlib.compress(np.ascontiguousarray(values, dtype="<f8").tobytes())


def unpacked(data: bytes, columns: int) -> FloatArray:
    """The array again, (n, columns)."""
    return np.frombuffer(zlib.decompress(data), dtype="<f8").reshape(-1, columns).astype(np.float64)


def chart_record(match: Match) -> ChartRecord:
    """The chart of a comparison; equal patches in equal order have the same hash."""
    device = packed(match.device)
    names = json.dumps([match.inks, match.labels], ensure_ascii=False).encode()
    digest = hashlib.sha256(names + b"\0" + zlib.decompress(device)).hexdigest()
    return ChartRecord(digest, match.inks, match.labels, device)
