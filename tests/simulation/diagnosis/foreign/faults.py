"""What goes wrong in foreign worlds, each with the causes that name it and one size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sentinel.core.arrays import FloatArray, Rows
from sentinel.core.colour.difference import de00
from sentinel.core.scoring.groups import groups
from sentinel.settings.targets_and_limits import HOUSE_LIMITS
from tests.simulation.diagnosis.foreign.charts import Layout
from tests.simulation.diagnosis.foreign.press import Distortion, Scene, brightener_light, curved, lab_of, stronger

PRINT_MOVED = "print-moved"
"""What a chart that is not in ink space can show of a hidden ink: the print moved, the paper did not."""


class NotReachableError(Exception):
    """No believable size of the fault comes to what was wanted."""


def _same_scene(scene: Scene, _size: float) -> Scene:
    return scene


def _same_light(light: FloatArray, _size: float) -> FloatArray:
    return light


@dataclass(frozen=True, eq=False)
class Fault:
    """`accepted` are the causes that name it; `scene` and `reading` (light (patches, channels) to light) do it at a
    size of 0 to `greatest`. One without a size has a `greatest` of 0."""

    kind: str
    accepted: frozenset[str]
    greatest: float
    scene: Callable[[Scene, float], Scene] = _same_scene
    reading: Callable[[FloatArray, float], FloatArray] = _same_light
    rival: int | None = None


@dataclass(frozen=True, eq=False)
class Subject:
    """What faults are drawn for: the stocks of a room, the first the own one, the chart, its hidden amounts, whether
    the chart is one of inks, and the hidden inks that a driver splits: light and dark."""

    stocks: list[Scene]
    layout: Layout
    amounts: FloatArray
    ink_space: bool
    split: tuple[tuple[int, int], ...] = ()

    @property
    def own(self) -> Scene:
        """The stock that the aim is of."""
        return self.stocks[0]

    def light(self, faults: dict[Fault, float]) -> FloatArray:
        """Light (patches, channels) under these faults and sizes, without stray."""
        return read_under(faults, scene_under(faults, self.own).light(self.amounts))


def scene_under(faults: dict[Fault, float], scene: Scene) -> Scene:
    """The scene with all faults in it."""
    for fault, size in faults.items():
        scene = fault.scene(scene, size)
    return scene


def read_under(faults: dict[Fault, float], light: FloatArray) -> FloatArray:
    """The reading with all faults in it."""
    for fault, size in faults.items():
        light = fault.reading(light, size)
    return light


def _names(subject: Subject, cause: str) -> frozenset[str]:
    return frozenset({cause} if subject.ink_space else {cause, PRINT_MOVED})


def _ink(rng: np.random.Generator, subject: Subject) -> int:
    """One that the chart uses well; of one that is split the dark one stands for both."""
    used = np.flatnonzero(subject.amounts.max(axis=0) > 0.6)
    return int(rng.choice([ink for ink in used if ink not in dict(subject.split)]))


def _sign(rng: np.random.Generator) -> int:
    return 1 if rng.random() < 0.5 else -1


def _of(ink: int, subject: Subject) -> FloatArray:
    """1 for this ink, and its light one where the driver splits it, 0 for the others: (inks,)."""
    own = [ink, *(light for light, dark in subject.split if dark == ink)]
    return np.asarray(np.eye(len(subject.own.press.inks))[own].sum(axis=0), dtype=np.float64)


def tone(rng: np.random.Generator, subject: Subject) -> Fault:
    """The tone curve of an ink, now and then of all, is off; solids stay."""
    bent = float(rng.normal(0.0, 0.25))
    of_all = rng.uniform(0.5, 1.3, len(subject.own.press.inks))
    way = _sign(rng) * (of_all if rng.random() < 0.2 else _of(_ink(rng, subject), subject))

    def scene(before: Scene, size: float) -> Scene:
        return curved(before, size * way, bent * size * way)

    return Fault("tone", _names(subject, "tone-shift"), 0.2, scene)


def solid(rng: np.random.Generator, subject: Subject) -> Fault:
    """An ink is weaker or stronger from its solid down."""
    way = _sign(rng) * _of(_ink(rng, subject), subject)

    def scene(before: Scene, size: float) -> Scene:
        return stronger(before, size * way)

    return Fault("solid", _names(subject, "solid-off-aim"), 0.5, scene)


def wet(rng: np.random.Generator, subject: Subject) -> Fault:
    """Read too early: all inks off together, the way this stock dries, and dots that have still to spread."""
    spread = float(rng.uniform(0.0, 0.25))

    def scene(before: Scene, size: float) -> Scene:
        return curved(stronger(before, size * before.drying), -spread * size * abs(before.drying))

    return Fault("wet", frozenset({"possibly-not-dry"}), 0.6, scene)


def paper(rng: np.random.Generator, subject: Subject) -> Fault:
    """Another shade of the stock: a tint, and all inks on it."""
    channels = len(subject.own.tint)
    way: FloatArray
    if channels == 3:
        way = rng.normal(0.0, (0.5, 0.5, 1.0)) + 0.4 * rng.normal()
    else:
        x = np.linspace(-1.0, 1.0, channels)
        way = rng.normal(0.0, (0.5, 0.7, 0.3)) @ np.stack([np.ones_like(x), x, x * x])
    way = np.asarray(way / np.abs(way).max(), dtype=np.float64)

    def scene(before: Scene, size: float) -> Scene:
        return replace(before, tint=before.tint * (1.0 + size * way))

    return Fault("paper", frozenset({"substrate-shade"}), 0.25, scene)


def scale(rng: np.random.Generator, subject: Subject) -> Fault:
    """The instrument reads all light too high or too low."""
    sign = _sign(rng)

    def scene(before: Scene, size: float) -> Scene:
        return replace(before, scale=before.scale * (1.0 + sign * size))

    return Fault("scale", frozenset({"measurement-scale"}), 0.25, scene)


def mode(rng: np.random.Generator, subject: Subject) -> Fault:
    """Read with more or less ultraviolet than the aim: a brightener shines more or less."""
    sign = _sign(rng)
    room = float((subject.own.press.paper / brightener_light(len(subject.own.tint)).clip(1e-3)).min())

    def scene(before: Scene, size: float) -> Scene:
        return replace(before, brightener=before.brightener + sign * size)

    return Fault("mode", frozenset({"measurement-mode"}), min(0.3, 0.5 * room), scene)


def stock(rng: np.random.Generator, subject: Subject) -> Fault:
    """Printed on another stock of the room."""
    place = int(rng.integers(1, len(subject.stocks)))

    def scene(_before: Scene, _size: float) -> Scene:
        return subject.stocks[place]

    return Fault("stock", frozenset({"wrong-substrate"}), 0.0, scene, rival=place)


def distortion(rng: np.random.Generator, subject: Subject) -> Fault:
    """The print moved smoothly as no single ink makes it: mixtures go their own ways, light and dark ones apart."""
    count, channels = len(subject.own.press.inks), len(subject.own.tint)
    pairs = tuple((int(rng.integers(count)), int(rng.integers(count))) for _ in range(4))
    powers = tuple((float(rng.uniform(0.8, 2.0)), float(rng.uniform(0.5, 1.5))) for _ in range(4))
    if channels == 3:
        shape = rng.standard_normal((4, 3))
    else:
        curves = np.cos(np.outer(np.arange(3), np.linspace(0, np.pi, channels)))
        shape = rng.standard_normal((4, 3)) @ curves

    def scene(before: Scene, size: float) -> Scene:
        return replace(before, distortions=(*before.distortions, Distortion(pairs, powers, size * shape)))

    return Fault("distortion", frozenset({"unexplained", PRINT_MOVED}), 0.5, scene)


def outlying(rng: np.random.Generator, subject: Subject) -> Fault:
    """Few neighbours show bare stock or a smear of dirt."""
    count = int(rng.integers(1, max(2, min(4, round(0.02 * len(subject.layout)))) + 1))
    first = int(rng.integers(len(subject.layout) - count))
    rows = subject.layout.along[first : first + count]
    under = subject.own.press.paper if rng.random() < 0.5 else 0.04 * np.ones(len(subject.own.tint))

    def reading(light: FloatArray, size: float) -> FloatArray:
        out = light.copy()
        out[rows] += size * (under - light[rows])
        return out

    return Fault("outlying", frozenset({"outlying-patches"}), 0.95, reading=reading)


def order(rng: np.random.Generator, subject: Subject) -> Fault:
    """Readings beside the wrong patches: rows late or early, a strip backwards, the sheet turned."""
    along = subject.layout.along if rng.random() < 0.5 else np.arange(len(subject.layout))
    source = _misread(rng, subject.layout, along)

    def reading(light: FloatArray, _size: float) -> FloatArray:
        return light[source]

    return Fault("order", frozenset({"patch-order"}), 0.0, reading=reading)


def _misread(rng: np.random.Generator, layout: Layout, along: Rows) -> Rows:
    """Which reading stands beside each patch: (patches,)."""
    source = np.arange(len(layout))
    way = rng.choice(("late", "early", "strip", "turned"))
    start = int(rng.uniform(0.0, 0.6) * len(along))
    if way == "late":
        source[along[start + 1 :]] = along[start:-1]
    elif way == "early":
        source[along[start:-1]] = along[start + 1 :]
    elif way == "strip":
        strip = int(rng.integers(int(layout.strip.max()) + 1))
        rows = layout.along[layout.strip[layout.along] == strip]
        source[rows] = rows[::-1]
    else:
        source[layout.along] = layout.along[::-1]
    return source


def light_ink(rng: np.random.Generator, subject: Subject) -> Fault:
    """The light ink that a driver lays beside a full one is weaker or stronger; the full one is right."""
    light, _ = subject.split[int(rng.integers(len(subject.split)))]
    way = _sign(rng) * np.eye(len(subject.own.press.inks))[light]

    def scene(before: Scene, size: float) -> Scene:
        return stronger(before, size * way)

    return Fault("light ink", frozenset({"light-ink"}), 0.9, scene)


OF_SPLIT: dict[str, Callable[[np.random.Generator, Subject], Fault]] = {"light ink": light_ink}
"""What goes wrong only where a driver splits inks."""

KINDS: dict[str, Callable[[np.random.Generator, Subject], Fault]] = {
    each.__name__: each
    for each in (tone, solid, wet, paper, scale, mode, stock, distortion, outlying, order)
}  # fmt: skip
PAPERS = frozenset({"paper", "scale", "mode", "stock"})
PAIRED = ("tone", "solid", "wet", "paper", "scale", "mode", "stock", "outlying", "order")
PAIRS = tuple(
    (first, second)
    for place, first in enumerate(PAIRED)
    for second in PAIRED[place + 1 :]
    if not {first, second} <= PAPERS
)
"""Two faults at once; two of the paper and the reading of it would be one to everybody."""


class Gauge:
    """How far a reading of a chart is from its aim: 1 at the first warning limit of the house."""

    def __init__(self, layout: Layout, aim: FloatArray) -> None:
        """`aim` (patches, 3) in Lab."""
        self._aim = aim
        named = groups(layout.inks, layout.device, aim)
        self._groups = {name: named[name] for name in HOUSE_LIMITS if name in named}

    def severity(self, lab: FloatArray) -> float:
        """Of a reading (patches, 3) in Lab."""
        off = de00(self._aim, lab)
        shares = [
            _figure(metric, off[rows]) / limit.warn
            for name, rows in self._groups.items()
            for metric, limit in HOUSE_LIMITS[name].items()
            if limit.warn
        ]
        return max(shares)


def _figure(metric: str, off: FloatArray) -> float:
    return float({"de00_mean": off.mean(), "de00_p95": np.percentile(off, 95), "de00_max": off.max()}[metric])


def sized(subject: Subject, gauge: Gauge, fault: Fault, wanted: float) -> float:
    """The size at which the fault alone comes to this severity, within a twelfth; 0 for one that has none.

    Raises NotReachableError where its greatest is not enough, or one without a size shows less than `wanted`.
    """
    if not fault.greatest:
        if gauge.severity(lab_of(subject.light({fault: 0.0}))) < wanted:
            raise NotReachableError(f"expected {fault.kind} to show {wanted:g} warning limits")
        return 0.0
    low, high, size = 0.0, fault.greatest, 0.3 * fault.greatest
    for _ in range(12):
        found = gauge.severity(lab_of(subject.light({fault: size})))
        if abs(found - wanted) < wanted / 12:
            return size
        low, high = (size, high) if found < wanted else (low, size)
        straight = size * wanted / max(found, 1e-6)
        size = straight if low < straight < high else (low + high) / 2.0
        if high - low < 1e-3 * fault.greatest:
            break
    raise NotReachableError(f"expected {fault.kind} to come to {wanted:g} warning limits")
