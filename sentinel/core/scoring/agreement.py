"""How two measurements must have been made alike before they may be compared."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.measurement import Backing, Measurement, MeasurementCondition
from sentinel.core.message import Message, msg
from sentinel.core.verdict import Code, Reason, Unscored


def comparable(
    target: MeasurementCondition, sample: MeasurementCondition, unknown_m_scored: bool
) -> tuple[Reason, ...]:
    """Reasons to mention. Raises Unscored where M condition or backing are known on both sides and differ."""
    if target.m and sample.m and target.m != sample.m:
        raise Unscored(
            Code.M_CONDITION_MISMATCH,
            msg("expected measurement condition {wanted} as for the aim, got {m}", wanted=target.m, m=sample.m),
        )
    if target.backing and sample.backing and target.backing != sample.backing:
        raise Unscored(Code.BACKING_MISMATCH, OTHER_BACKING[target.backing])
    if target.m and sample.m:
        return ()
    reason = Reason(Code.M_CONDITION_UNKNOWN, M_NOT_TOLD[bool(target.m), bool(sample.m)])
    if not unknown_m_scored:
        raise Unscored(reason.code, reason.message)
    return (reason,)


def understood(measurement: Measurement, condition: MeasurementCondition) -> None:
    """Raises Unscored where the M condition or the backing is stated in a way that cannot be told, and not declared."""
    read_as = measurement.interpretation.declaring(measurement.condition, condition)
    unclear = read_as.about("m", "backing")
    if unclear:
        raise Unscored(unclear.reason.code, unclear.message)


OTHER_BACKING: Mapping[Backing, Message] = {
    "black": msg("expected a black backing as for the aim, got white"),
    "white": msg("expected a white backing as for the aim, got black"),
}
"""By the target's."""

M_NOT_TOLD: Mapping[tuple[bool, bool], Message] = {
    (False, True): msg("expected a measurement condition M0 to M3, not told by the aim"),
    (True, False): msg("expected a measurement condition M0 to M3, not told by the measurement"),
    (False, False): msg("expected a measurement condition M0 to M3, not told by the aim and the measurement"),
}
"""By whether the target and the measurement tell theirs."""
