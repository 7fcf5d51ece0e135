"""What must agree before two measurements may be compared at all."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.measurement_condition import Backing, MeasurementCondition
from sentinel.core.reasons import Code, Reason, Unscored
from sentinel.core.said import Sentence, said


def comparable(
    target: MeasurementCondition, sample: MeasurementCondition, unknown_m_scored: bool
) -> tuple[Reason, ...]:
    """Reasons to mention. Raises Unscored where M condition or backing are known on both sides and differ."""
    if target.m and sample.m and target.m != sample.m:
        raise Unscored(
            Code.M_CONDITION_MISMATCH,
            said("expected measurement condition {wanted} like the target's, got {m}", wanted=target.m, m=sample.m),
        )
    if target.backing and sample.backing and target.backing != sample.backing:
        raise Unscored(Code.BACKING_MISMATCH, OTHER_BACKING[target.backing])
    if target.m and sample.m:
        return ()
    reason = Reason(Code.M_CONDITION_UNKNOWN, M_NOT_TOLD[bool(target.m), bool(sample.m)])
    if not unknown_m_scored:
        raise Unscored(reason.code, reason.message)
    return (reason,)


OTHER_BACKING: Mapping[Backing, Sentence] = {
    "black": said("expected a black backing like the target's, got white"),
    "white": said("expected a white backing like the target's, got black"),
}
"""By the target's."""

M_NOT_TOLD: Mapping[tuple[bool, bool], Sentence] = {
    (False, True): said("expected a measurement condition M0 to M3, not told by the target"),
    (True, False): said("expected a measurement condition M0 to M3, not told by the measurement"),
    (False, False): said("expected a measurement condition M0 to M3, not told by the target and the measurement"),
}
"""By whether the target and the measurement tell theirs."""
