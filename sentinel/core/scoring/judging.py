"""From figures and limits to a verdict with its reasons."""

from __future__ import annotations

from sentinel.core.reasons import Code, Reason
from sentinel.core.scoring.limits import Limits
from sentinel.core.scoring.metrics import Metrics
from sentinel.core.verdict import Verdict


def judge(metrics: Metrics, limits: Limits) -> tuple[Verdict, tuple[Reason, ...]]:
    """The verdict, and one reason for each limit passed or not applicable, those beyond an action limit first."""
    beyond_action, beyond_warning, absent = [], [], []
    for group, wanted in limits.items():
        if group not in metrics:
            absent.append(Reason(Code.GROUP_ABSENT, f"the chart has no {group} patches: their limits were not checked"))
            continue
        for metric, limit in wanted.items():
            value = metrics[group][metric]
            if value > limit.act:
                beyond_action.append(_beyond(Code.ACTION_LIMIT, "action", f"{group}.{metric}", value, limit.act))
            elif value > limit.warn:
                beyond_warning.append(_beyond(Code.WARNING_LIMIT, "warning", f"{group}.{metric}", value, limit.warn))
    verdict = Verdict.FAIL if beyond_action else Verdict.WARN if beyond_warning else Verdict.PASS
    return verdict, (*beyond_action, *beyond_warning, *absent)


def _beyond(code: Code, kind: str, figure: str, value: float, limit: float) -> Reason:
    return Reason(code, f"{figure} is {value:.2f}, the {kind} limit is {limit:.2f}")
