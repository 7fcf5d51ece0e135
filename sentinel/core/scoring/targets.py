"""From the bytes of a measurement file to aim values."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from sentinel.core.measurement import MeasurementCondition, UnreadableError
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.message import msg
from sentinel.core.scoring.score import Target
from sentinel.core.verdict import Code, Unscored


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
        found = read_measurements(data)
    except UnreadableError as fault:
        message = msg("the target {name} cannot be read: {fault}", name=name, fault=fault.sentence)
        raise Unscored(Code.TARGET_NOT_READABLE, message) from fault
    if len(found) < table:
        raise Unscored(
            Code.TARGET_NOT_READABLE,
            msg(
                "expected {table} measurements or more in the target {name}, got {found}",
                table=table,
                name=name,
                found=len(found),
            ),
        )
    chosen = found[table - 1]
    if chosen.reflectance is None and chosen.lab is None and chosen.xyz is None:
        raise Unscored(
            Code.TARGET_NOT_READABLE,
            msg("expected spectral, Lab or XYZ columns in the target {name}, got none of them", name=name),
        )
    own = chosen.condition
    condition = replace(own, m=own.m or declared.m, backing=own.backing or declared.backing)
    serial = chosen.serial or instrument
    return Target(name, hashlib.sha256(data).hexdigest(), chosen, condition, colour_path, serial)
