"""From the bytes of a CGATS file to aim values."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from sentinel.core.cgats import CgatsError, measurements, read
from sentinel.core.measurement_condition import MeasurementCondition
from sentinel.core.reasons import Code, Unscored
from sentinel.core.scoring.score import Target


def target_from(
    data: bytes,
    name: str,
    table: int,
    colour_path: str,
    declared: MeasurementCondition,
    instrument: str | None = None,
) -> Target:
    """The target in measurement number `table` (from 1) of a file; `declared` fills what the file does not say.

    Raises Unscored, with the reason, where the file cannot serve as a target.
    """
    try:
        found = measurements(read(data))
    except CgatsError as fault:
        raise Unscored(Code.TARGET_NOT_READABLE, f"the target {name} cannot be read: {fault}") from fault
    if len(found) < table:
        raise Unscored(
            Code.TARGET_NOT_READABLE, f"expected {table} measurements or more in the target {name}, got {len(found)}"
        )
    chosen = found[table - 1]
    if chosen.reflectance is None and chosen.lab is None and chosen.xyz is None:
        raise Unscored(
            Code.TARGET_NOT_READABLE, f"expected spectral, Lab or XYZ columns in the target {name}, got none of them"
        )
    said = chosen.condition
    condition = replace(said, m=said.m or declared.m, backing=said.backing or declared.backing)
    serial = chosen.serial or instrument
    return Target(name, hashlib.sha256(data).hexdigest(), chosen, condition, colour_path, serial)
