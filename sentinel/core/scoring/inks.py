"""Whether a chart was printed with the inks its stock takes."""

from __future__ import annotations

from sentinel.core.cgats.measurement import Chart
from sentinel.core.reasons import Code, Unscored
from sentinel.core.said import said
from sentinel.core.scoring.ink_set import InkSet
from sentinel.core.scoring.roles import named_inks


def refuse_wrong_inks(chart: Chart, expected: InkSet) -> None:
    """Raises Unscored where the chart lays an ink this stock leaves out, or never one that it takes.

    Nothing is refused where the printer's inks are not told, nor for an RGB chart.
    """
    called = named_inks(chart.inks, expected.inks)
    if not expected.inks or not called or set(called) <= {"R", "G", "B"}:
        return
    used = {ink for column, ink in enumerate(called) if (chart.device[:, column] > 0).any()}
    if unwanted := sorted(used & expected.left_out):
        raise Unscored(
            Code.INK_UNEXPECTED,
            said("expected a chart without {inks}, which this stock leaves out, got it", inks=", ".join(unwanted)),
        )
    if lacking := [ink for ink in expected.inks if ink not in used | expected.left_out]:
        raise Unscored(
            Code.INK_MISSING,
            said(
                "expected a chart of {inks}, got one without {lacking}",
                inks=" ".join(ink for ink in expected.inks if ink not in expected.left_out),
                lacking=", ".join(lacking),
            ),
        )
