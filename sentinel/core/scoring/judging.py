"""From figures and limits to a verdict with its reasons; and which figures on record still say the same."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sentinel.core.message import Message, msg
from sentinel.core.scoring.groups import named_inks
from sentinel.core.scoring.membership import UNTOLD, Count, Counted
from sentinel.core.scoring.metrics import Metrics
from sentinel.core.scoring.names import figure_words, group_words, in_its_unit, unit_of
from sentinel.core.scoring.policy import Limit, Limits, ScoringOptions, beyond
from sentinel.core.verdict import Code, Reason, Verdict


def judge(metrics: Metrics, limits: Limits, counted: Counted = UNTOLD) -> tuple[Verdict, tuple[Reason, ...]]:
    """The verdict, and one reason for each limit passed or not applicable, those beyond an action limit first.

    A signed figure is held to its limits by its size. `counted` tells a group that the chart lacks from one that was
    not read.
    """
    beyond_action, beyond_warning = [], []
    for group, metric, value, limit in _applied(metrics, limits):
        if beyond(value, limit.act):
            beyond_action.append(_beyond(Code.ACTION_LIMIT, group, metric, value, limit.act))
        elif beyond(value, limit.warn):
            beyond_warning.append(_beyond(Code.WARNING_LIMIT, group, metric, value, limit.warn))
    verdict = Verdict.FAIL if beyond_action else Verdict.WARN if beyond_warning else Verdict.PASS
    return verdict, (*beyond_action, *beyond_warning, *_absent(metrics, limits, counted))


def is_recovered(metrics: Metrics, limits: Limits) -> bool:
    """Whether every figure is low enough for a failing condition to count as recovered."""
    return all(
        not beyond(value, limit.act if limit.recover is None else limit.recover)
        for _, _, value, limit in _applied(metrics, limits)
    )


def _applied(metrics: Metrics, limits: Limits) -> Iterator[tuple[str, str, float, Limit]]:
    for group, wanted in limits.items():
        for metric, limit in wanted.items():
            if metric in metrics.get(group, {}):
                yield group, metric, abs(metrics[group][metric]), limit


def _absent(metrics: Metrics, limits: Limits, counted: Counted) -> Iterator[Reason]:
    for group, wanted in limits.items():
        if wanted and group not in metrics:
            yield _not_checked(group, counted.get(group))
        for metric in wanted if group in metrics else ():
            if metric not in metrics[group]:
                figure = figure_words(group, metric)
                yield Reason(Code.GROUP_ABSENT, NOT_TO_BE_HAD.format(figure=figure))


def _not_checked(group: str, count: Count | None) -> Reason:
    """Why the limits of a group were not checked; `count` is None where the target has no patch of it."""
    words = group_words(group)
    if count is None:
        return Reason(
            Code.GROUP_ABSENT, msg("the aim has no values of {group}: their limits were not checked", group=words)
        )
    message = NOT_READ[count.held > 0].format(group=words, count=count.target)
    return Reason(Code.GROUP_NOT_READ, message)


NOT_READ: Mapping[bool, Message] = {
    False: msg(
        "{group}: the aim's {count} patch is not in the file, its limits were not checked",
        "{group}: none of the aim's {count} patches is in the file, their limits were not checked",
    ),
    True: msg(
        "{group}: the aim's {count} patch has no values in the file, its limits were not checked",
        "{group}: none of the aim's {count} patches has values in the file, their limits were not checked",
    ),
}
"""By whether the file holds patches of the group."""

NOT_TO_BE_HAD = msg("{figure}: not to be had from this file, its limit was not checked")


def _beyond(code: Code, group: str, metric: str, value: float, limit: float) -> Reason:
    told, allowed = in_its_unit(metric, value), in_its_unit(metric, limit)
    words = BEYOND[code, f"{told:.2f}" != f"{allowed:.2f}"]
    figure = figure_words(group, metric)
    return Reason(code, words.format(figure=figure, limit=allowed, value=told, unit=unit_of(metric)))


BEYOND: Mapping[tuple[Code, bool], Message] = {
    (Code.ACTION_LIMIT, True): msg(
        "{figure}: expected at most the action limit {limit:.2f} {unit}, got {value:.2f} {unit}"
    ),
    (Code.ACTION_LIMIT, False): msg(
        "{figure}: expected at most the action limit {limit:.2f} {unit}, got {value:.6f} {unit}"
    ),
    (Code.WARNING_LIMIT, True): msg(
        "{figure}: expected at most the warning limit {limit:.2f} {unit}, got {value:.2f} {unit}"
    ),
    (Code.WARNING_LIMIT, False): msg(
        "{figure}: expected at most the warning limit {limit:.2f} {unit}, got {value:.6f} {unit}"
    ),
}
"""By the limit, and whether two digits tell the value from it."""


def known_figures(metrics: Metrics, inks: tuple[str, ...], made: ScoringOptions, wanted: ScoringOptions) -> Metrics:
    """Those of `metrics`, `made` in one way, that would be the same if made as `wanted`; the others are left out.

    `inks` are those of the chart. What may differ counts as different: tone values stand on paper and solids, densities
    on solids, figures relative to paper on paper.
    """
    if made == wanted:
        return metrics
    redone = _redone(made, wanted)
    renamed = named_inks(inks, made.ink_names) != named_inks(inks, wanted.ink_names)
    lost = tuple(_lost(made, wanted, redone, renamed))
    return {
        group: {name: value for name, value in figures.items() if not name.startswith(lost)}
        for group, figures in metrics.items()
        if group not in redone and (group == "all" or not renamed)
    }


def _redone(made: ScoringOptions, wanted: ScoringOptions) -> set[str]:
    names = made.own_groups.keys() | wanted.own_groups.keys()
    return {name for name in names if made.own_groups.get(name) != wanted.own_groups.get(name)}


def _lost(made: ScoringOptions, wanted: ScoringOptions, redone: set[str], renamed: bool) -> list[str]:
    """The beginnings of the metrics that are lost in every group."""
    lost = []
    of_inks = any(name == "paper" or name.startswith(("solid_", "tones_")) for name in redone)
    if made.share_beyond != wanted.share_beyond:
        lost.append("de00_share")
    if renamed or "paper" in redone:
        lost.append("rel_")
    if renamed or made.ink_space != wanted.ink_space or of_inks:
        lost += ["tv_", "tvd_"]
    if renamed or made.density_status != wanted.density_status or of_inks:
        lost += ["density_", "tvd_"]
    return lost
