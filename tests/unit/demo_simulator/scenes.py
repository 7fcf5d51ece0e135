"""A small scene for these tests: four inks on a brightened paper, and the charts of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from demo.simulator.charts import Chart, Plan, full_chart
from demo.simulator.faults import Scene
from demo.simulator.inks import Chemistry, InkSet, Law, draw_inks
from demo.simulator.papers import FAMILIES, Paper, draw_paper
from demo.simulator.press import Curve, Press, nominal_press

CHEMISTRY = Chemistry("wavelength", ("beer-lambert",), stray_nm=0.0, stray_height=0.0, trapping=(1.0, 1.0))
PLAN = Plan((25.0, 50.0, 75.0, 100.0), (0, 50, 100), (0, 40), (0, 100), (100,), (50, 100), 3, 10, True, False)


def paper(family: str = "gloss-photo") -> Paper:
    kind = next(each for each in FAMILIES if each.name == family)
    return draw_paper(np.random.default_rng(5), kind, "satin-240")


def inks(count: int = 4, law: Law = "beer-lambert") -> InkSet:
    return replace(draw_inks(np.random.default_rng(6), CHEMISTRY, count), law=law)


def press(on: Paper | None = None, ink_set: InkSet | None = None, curve: Curve = "parabola") -> Press:
    return nominal_press(np.random.default_rng(7), on or paper(), ink_set or inks(), curve)


def plain_press(n: float) -> Press:
    """Without dot gain, surface and brightener: coverages are the device values."""
    bare = replace(paper(), brightener=0.0, surface=0.0, gain=0.0, n=n)
    zero = np.zeros(4)
    return replace(press(bare), gain=zero, skew=zero, strength=np.ones(4))


def scene() -> Scene:
    return Scene(press(), "M1")


def chart(count: int = 4) -> Chart:
    return full_chart(np.random.default_rng(8), inks(count).names, PLAN)
