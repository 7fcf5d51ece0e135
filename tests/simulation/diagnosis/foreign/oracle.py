"""One who knows the world: its prints, its stocks, how its sheets stray and how its faults are drawn, but not which.

Every fault is fitted to the reading beside the true print, the stray's covariance exact to first order, and weighed by
its evidence (Laplace's), by how often the world draws it, and by what is told beside the file. It knows more than could
be known (the true misreading and the true smears are among what it tries), so it bounds what a diagnosis can reach from
above. Asked of checks that are healthy or have one fault.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from sentinel.core.arrays import FloatArray
from tests.simulation.diagnosis.foreign.cases import INSTRUMENT, SEVERITY, ForeignCase
from tests.simulation.diagnosis.foreign.faults import KINDS, Fault, Gauge
from tests.simulation.diagnosis.foreign.judging import CONFIDENT
from tests.simulation.diagnosis.foreign.press import (
    GAIN,
    LEVEL,
    STRENGTH,
    Distortion,
    Scene,
    Stray,
    curved,
    lab_of,
    stray_covariance,
    stronger,
)

HEALTHY = "healthy"
EXPECTED = {HEALTHY: 5 / 17, **dict.fromkeys(KINDS, 12 / 17 / len(KINDS))}
"""How often the world draws what, of healthy checks and those with one fault."""

CAUSES = {
    "tone": "tone-shift",
    "solid": "solid-off-aim",
    "wet": "possibly-not-dry",
    "paper": "substrate-shade",
    "scale": "measurement-scale",
    "mode": "measurement-mode",
    "stock": "wrong-substrate",
    "distortion": "unexplained",
    "outlying": "outlying-patches",
    "order": "patch-order",
}
OTHERS_TRIED = 8
"""Misreadings, smears and distortions that did not happen, beside the one that did."""
STEP = 0.01
FLOOR = 0.01
"""Lab that rounding and what is beyond first order leave."""
SMEARED = 20.0
"""Lab of a patch that shows nothing of what it should."""
EDGE = 0.08
"""How sharply the size of faults ends, in the logarithm of their severity."""


@dataclass(frozen=True, eq=False)
class Explanation:
    """A fault with open sizes (p,) of standard deviations `usual` (p,); `scene` makes them."""

    kind: str
    share: float
    usual: FloatArray
    scene: Callable[[FloatArray], Scene]


def oracle(case: ForeignCase) -> tuple[str, ...] | None:
    """The causes it answers a healthy check (none) or one with a single fault by; None where it is not asked: of light
    inks it knows nothing."""
    if case.small or len(case.faults) > 1 or case.room.world == "split":
        return None
    return tuple(CAUSES[kind] for kind in Oracle(case).answer())


@dataclass(frozen=True, eq=False)
class Fit:
    """`sizes` (p,), their information `normal` (p, p) in usual sizes, and the square `rest` that nothing explains."""

    sizes: FloatArray
    normal: FloatArray
    rest: float


class Oracle:
    """Of one case."""

    def __init__(self, case: ForeignCase) -> None:
        self._case, self._own = case, case.own
        self._still = self._lab(self._own)
        self._moved = (case.read - self._still).ravel()
        self._gauge = Gauge(case.room.layout, self._still)
        covariance = self._covariance()
        self._inverse = np.linalg.inv(covariance)
        self._white = np.linalg.inv(np.linalg.cholesky(covariance))

    def answer(self) -> tuple[str, ...]:
        """The fewest kinds of fault that hold the truth with `CONFIDENT`; none where it is healthy."""
        weights = self._weights()
        if weights.pop(HEALTHY) > 0.5:
            return ()
        total, sure, told = sum(weights.values()), 0.0, []
        for kind in sorted(weights, key=lambda each: -weights[each]):
            told.append(kind)
            sure += weights[kind] / total
            if sure >= CONFIDENT:
                break
        return tuple(told)

    def _lab(self, scene: Scene, stray: Stray | None = None) -> FloatArray:
        return lab_of(scene.light(self._case.room.amounts, stray))

    def _covariance(self) -> FloatArray:
        """Of the reading around the print: (3 patches, 3 patches)."""
        patches, inks = self._case.room.amounts.shape
        none = Stray(np.zeros((patches, inks)), np.zeros((patches, inks)), np.zeros(patches))
        strays = [replace(none, level=LEVEL * np.ones(patches))]
        for ink in range(inks):
            only = np.zeros((patches, inks))
            only[:, ink] = 1.0
            strays += [replace(none, strength=STRENGTH * only), replace(none, gain=GAIN * only)]
        size = self._case.stray_size
        moved = [size * (self._lab(self._own, stray.times(STEP)) - self._still) / STEP for stray in strays]
        apart = np.repeat(np.repeat(stray_covariance(self._case.room.layout.places, self._case.shares), 3, 0), 3, 1)
        covariance = apart * sum(np.outer(each, each) for each in moved)
        read = moved[0] * INSTRUMENT / (LEVEL * size)
        alone = np.kron(np.eye(patches), np.ones((3, 3)))
        return np.asarray(covariance + alone * np.outer(read, read) + FLOOR**2 * np.eye(3 * patches))

    def _weights(self) -> dict[str, float]:
        """Of each kind, 1 in all."""
        logs: dict[str, list[float]] = {HEALTHY: [self._evidence(self._moved)]}
        open_sizes: dict[str, list[Explanation]] = {}
        for each in self._explanations():
            if len(each.usual):
                open_sizes.setdefault(each.kind, []).append(each)
            else:
                left = self._moved - self._shown(each, each.usual)
                logs.setdefault(each.kind, []).append(self._evidence(left) + np.log(each.share))
        for kind, several in open_sizes.items():
            logs[kind] = [self._best(several)]
        logs["outlying"] = [self._of_smears()]
        logs["order"] = list(self._of_orders())
        top = max(max(each) for each in logs.values())
        weights = {
            kind: EXPECTED[kind] * self._told(kind) * float(np.exp(np.array(each) - top).sum())
            for kind, each in logs.items()
        }
        return {kind: weight / sum(weights.values()) for kind, weight in weights.items()}

    def _evidence(self, left: FloatArray) -> float:
        """ln of the density of what is left, its scale summed over."""
        white = self._white @ left
        return float(-0.5 * len(left) * np.log(white @ white))

    def _best(self, several: list[Explanation]) -> float:
        """ln of the evidence of the explanation of a kind that leaves least along a straight line."""
        straight = [self._stepped(each, np.zeros(len(each.usual)), None) for each in several]
        best = int(np.argmin([fit.rest for fit in straight]))
        each, fit = several[best], straight[best]
        for white in (None, None, self._white, self._white):
            fit = self._stepped(each, fit.sizes, white)
        shown = self._shown(each, fit.sizes)
        log = self._evidence(self._moved - shown) - 0.5 * ((fit.sizes / each.usual) ** 2).sum()
        return float(log - 0.5 * np.linalg.slogdet(fit.normal)[1] + self._of_size(shown) + np.log(each.share))

    def _stepped(self, each: Explanation, sizes: FloatArray, white: FloatArray | None) -> Fit:
        """Better sizes, along the line that touches the explanation's curve at these. What strays little counts most
        where told by `white`; else all counts alike, since far from the truth the curve strays more than the sheet."""
        shown = self._shown(each, sizes)
        directions = self._directions(each, sizes, shown)
        left = self._moved - shown + directions @ sizes
        if white is not None:
            left, directions = white @ left, white @ directions
        rest = left - directions @ np.linalg.lstsq(directions, left, rcond=None)[0]
        noise = max(float(rest @ rest) / len(rest), 1.0 if white is not None else FLOOR)
        scaled = directions * each.usual
        normal = scaled.T @ scaled / noise + np.eye(len(sizes))
        found = each.usual * np.linalg.solve(normal, scaled.T @ left / noise)
        return Fit(np.clip(found, -4 * each.usual, 4 * each.usual), normal, float(rest @ rest))

    def _of_size(self, shown: FloatArray) -> float:
        """ln of how likely a fault so large is: faults come to some warning limits, not to any."""
        severity = max(self._gauge.severity(self._still + shown.reshape(-1, 3)), 1e-6)
        low, high = np.log(SEVERITY[0] / severity), np.log(severity / SEVERITY[1])
        return float(-0.5 * (max(low, high, 0.0) / EDGE) ** 2)

    def _shown(self, each: Explanation, sizes: FloatArray) -> FloatArray:
        return (self._lab(each.scene(sizes)) - self._still).ravel()

    def _directions(self, each: Explanation, sizes: FloatArray, shown: FloatArray) -> FloatArray:
        steps = STEP * each.usual[:, None] * np.eye(len(sizes))
        columns = [(self._shown(each, sizes + step) - shown) / step.sum() for step in steps]
        return np.stack(columns, axis=1)

    def _explanations(self) -> Iterator[Explanation]:
        own, inks = self._own, len(self._own.press.inks)
        used = np.flatnonzero(self._case.room.amounts.max(axis=0) > 0.6)
        unit, ones = np.eye(inks), np.ones(inks)
        for ink in used:
            yield Explanation("tone", 0.8 / len(used), np.array([0.08, 0.02]), _toned(own, unit[ink]))
            yield Explanation("solid", 1 / len(used), np.array([0.2]), _stronger(own, unit[ink]))
        yield Explanation("tone", 0.2, np.r_[0.06, 0.015, 0.02 * ones], _all_toned(own))
        yield Explanation("wet", 1.0, np.array([0.2, 0.03]), _wetter(own))
        channels = len(own.tint)
        x = np.linspace(-1.0, 1.0, channels)
        ways = np.eye(3) if channels == 3 else np.stack([np.ones_like(x), x, x * x])
        yield Explanation(
            "paper", 1.0, 0.08 * np.ones(3), lambda sizes: replace(own, tint=own.tint * (1 + sizes @ ways))
        )
        yield Explanation("scale", 1.0, np.array([0.12]), lambda sizes: replace(own, scale=1 + float(sizes[0])))
        yield Explanation("mode", 1.0, np.array([0.1]), lambda sizes: replace(own, brightener=float(sizes[0])))
        others = self._case.subject.stocks[1:]
        for stock in others:
            yield Explanation("stock", 1 / len(others), np.zeros(0), _printed_on(stock))
        yield from self._distortions()

    def _distortions(self) -> Iterator[Explanation]:
        """By their places in the colour space, their shapes open: some that did not happen, and the one that did."""
        rng = np.random.default_rng(self._case.number)
        faults = [KINDS["distortion"](rng, self._case.subject) for _ in range(OTHERS_TRIED)]
        faults += [fault for fault in self._case.faults if fault.kind == "distortion"]
        for fault in faults:
            (drawn,) = fault.scene(self._own, 1.0).distortions
            size = len(drawn.shape) * 3
            yield Explanation("distortion", 1 / len(faults), 0.1 * np.ones(size), _distorted(self._own, drawn))

    def _of_smears(self) -> float:
        """A healthy sheet but for a few neighbours: every place of up to four is tried."""
        pulled = self._inverse @ self._moved
        square = float(self._moved @ pulled)
        along, logs = self._case.room.layout.along, []
        for count in range(1, 5):
            for first in range(len(along) - count):
                rows = (3 * along[first : first + count][:, None] + np.arange(3)).ravel()
                precision = self._inverse[np.ix_(rows, rows)]
                smear = np.linalg.solve(precision, pulled[rows])
                shown = np.zeros(len(self._moved))
                shown[rows] = smear
                rest = max(square - float(pulled[rows] @ smear), 1.0)
                log = -0.5 * len(self._moved) * np.log(rest) - 0.5 * np.linalg.slogdet(precision)[1]
                log += self._of_size(shown)
                logs.append(log - len(rows) * np.log(SMEARED) - np.log(4 * len(along)))
        return float(np.logaddexp.reduce(logs))

    def _of_orders(self) -> Iterator[float]:
        """Misreadings that did not happen, and the one that did."""
        rng = np.random.default_rng(self._case.number)
        faults: list[Fault] = [KINDS["order"](rng, self._case.subject) for _ in range(OTHERS_TRIED)]
        faults += [fault for fault in self._case.faults if fault.kind == "order"]
        light = self._own.light(self._case.room.amounts)
        for fault in faults:
            shown = (lab_of(fault.reading(light, 0.0)) - self._still).ravel()
            yield self._evidence(self._moved - shown) - float(np.log(4 * len(light)))

    def _told(self, kind: str) -> float:
        """How likely what is told beside the file is under a kind, as `cases` draws it."""
        context = self._case.context
        likely = 1.0
        if context.hours_since_print is not None and context.drying_hours is not None:
            likely *= (context.hours_since_print < context.drying_hours) == (kind == "wet")
        if context.new_lot is not None:
            chance = 1.0 if kind == "paper" else 0.1
            likely *= chance if context.new_lot else 1 - chance
        if context.moved_alike is not None:
            likely *= (context.moved_alike > 0.4) == (kind == "scale")
        header = self._case.reading.condition.m
        chance = 1.0 if kind == "mode" else 0.4
        return likely * (chance if header is None else 1 - chance)


Made = Callable[[FloatArray], Scene]


def _toned(own: Scene, way: FloatArray) -> Made:
    return lambda sizes: curved(own, sizes[0] * way, sizes[1] * way)


def _all_toned(own: Scene) -> Made:
    return lambda sizes: curved(own, sizes[0] + sizes[2:], sizes[1])


def _stronger(own: Scene, way: FloatArray) -> Made:
    return lambda sizes: stronger(own, sizes[0] * way)


def _wetter(own: Scene) -> Made:
    return lambda sizes: curved(stronger(own, sizes[0] * own.drying), -sizes[1] * abs(own.drying))


def _printed_on(stock: Scene) -> Made:
    return lambda _sizes: stock


def _distorted(own: Scene, drawn: Distortion) -> Made:
    channels = drawn.shape.shape[1]
    basis = np.eye(3) if channels == 3 else np.cos(np.outer(np.arange(3), np.linspace(0, np.pi, channels)))

    def scene(sizes: FloatArray) -> Scene:
        return replace(own, distortions=(replace(drawn, shape=sizes.reshape(-1, 3) @ basis),))

    return scene
