"""From figures and limits to a verdict with its reasons."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sentinel.core.reasons import Code, Reason
from sentinel.core.said import Sentence, said
from sentinel.core.scoring.limits import Limit, Limits
from sentinel.core.scoring.metrics import Metrics
from sentinel.core.scoring.words import figure_words, group_words
from sentinel.core.verdict import Verdict


def judge(metrics: Metrics, limits: Limits) -> tuple[Verdict, tuple[Reason, ...]]:
    """The verdict, and one reason for each limit passed or not applicable, those beyond an action limit first.

    A signed figure is held to its limits by its size.
    """
    beyond_action, beyond_warning = [], []
    for group, metric, value, limit in _applied(metrics, limits):
        if value > limit.act:
            beyond_action.append(_beyond(Code.ACTION_LIMIT, figure_words(group, metric), value, limit.act))
        elif value > limit.warn:
            beyond_warning.append(_beyond(Code.WARNING_LIMIT, figure_words(group, metric), value, limit.warn))
    verdict = Verdict.FAIL if beyond_action else Verdict.WARN if beyond_warning else Verdict.PASS
    return verdict, (*beyond_action, *beyond_warning, *_absent(metrics, limits))


def is_recovered(metrics: Metrics, limits: Limits) -> bool:
    """Whether every figure is low enough for a failing condition to count as recovered."""
    return all(
        value <= (limit.act if limit.recover is None else limit.recover)
        for _, _, value, limit in _applied(metrics, limits)
    )


def _applied(metrics: Metrics, limits: Limits) -> Iterator[tuple[str, str, float, Limit]]:
    for group, wanted in limits.items():
        for metric, limit in wanted.items():
            if metric in metrics.get(group, {}):
                yield group, metric, abs(metrics[group][metric]), limit


def _absent(metrics: Metrics, limits: Limits) -> Iterator[Reason]:
    for group, wanted in limits.items():
        if wanted and group not in metrics:
            message = said("the chart has no {group}: their limits were not checked", group=group_words(group))
            yield Reason(Code.GROUP_ABSENT, message)
        for metric in wanted if group in metrics else ():
            if metric not in metrics[group]:
                figure = figure_words(group, metric)
                yield Reason(Code.GROUP_ABSENT, NOT_TO_BE_HAD.format(figure=figure))


NOT_TO_BE_HAD = said("{figure}: not to be had from this file, its limit was not checked")


def _beyond(code: Code, figure: Sentence, value: float, limit: float) -> Reason:
    clear = f"{value:.2f}" != f"{limit:.2f}"
    return Reason(code, BEYOND[code, clear].format(figure=figure, limit=limit, value=value))


BEYOND: Mapping[tuple[Code, bool], Sentence] = {
    (Code.ACTION_LIMIT, True): said("{figure}: expected at most the action limit {limit:.2f}, got {value:.2f}"),
    (Code.ACTION_LIMIT, False): said("{figure}: expected at most the action limit {limit:.2f}, got {value:.6f}"),
    (Code.WARNING_LIMIT, True): said("{figure}: expected at most the warning limit {limit:.2f}, got {value:.2f}"),
    (Code.WARNING_LIMIT, False): said("{figure}: expected at most the warning limit {limit:.2f}, got {value:.6f}"),
}
"""By the limit, and whether two digits tell the value from it."""
