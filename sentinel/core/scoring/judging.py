"""From figures and limits to a verdict with its reasons."""

from __future__ import annotations

from sentinel.core.reasons import Code, Reason
from sentinel.core.scoring.limits import Limits
from sentinel.core.scoring.metrics import Metrics
from sentinel.core.scoring.words import figure_words
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
                beyond_action.append(_beyond(Code.ACTION_LIMIT, group, metric, value, limit.act))
            elif value > limit.warn:
                beyond_warning.append(_beyond(Code.WARNING_LIMIT, group, metric, value, limit.warn))
    verdict = Verdict.FAIL if beyond_action else Verdict.WARN if beyond_warning else Verdict.PASS
    return verdict, (*beyond_action, *beyond_warning, *absent)


def _beyond(code: Code, group: str, metric: str, value: float, limit: float) -> Reason:
    kind = "action limit" if code is Code.ACTION_LIMIT else "warning limit"
    digits = 2 if f"{value:.2f}" != f"{limit:.2f}" else 6
    return Reason(
        code, f"{figure_words(group, metric)}: expected at most the {kind} {limit:.2f}, got {value:.{digits}f}"
    )
