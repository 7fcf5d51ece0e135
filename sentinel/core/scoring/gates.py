"""What must agree before two measurements may be compared at all."""

from __future__ import annotations

from sentinel.core.measurement_condition import MeasurementCondition
from sentinel.core.reasons import Code, Reason, Unscored


def comparable(
    target: MeasurementCondition, sample: MeasurementCondition, unknown_m_scored: bool
) -> tuple[Reason, ...]:
    """Reasons to mention. Raises Unscored where M condition or backing are known on both sides and differ."""
    if target.m and sample.m and target.m != sample.m:
        raise Unscored(
            Code.M_CONDITION_MISMATCH, f"expected measurement condition {target.m} like the target's, got {sample.m}"
        )
    if target.backing and sample.backing and target.backing != sample.backing:
        raise Unscored(
            Code.BACKING_MISMATCH, f"expected a {target.backing} backing like the target's, got {sample.backing}"
        )
    if target.m and sample.m:
        return ()
    silent = " and ".join(side for side, m in (("the target", target.m), ("the measurement", sample.m)) if m is None)
    reason = Reason(Code.M_CONDITION_UNKNOWN, f"expected a measurement condition M0 to M3, not told by {silent}")
    if not unknown_m_scored:
        raise Unscored(reason.code, reason.message)
    return (reason,)
