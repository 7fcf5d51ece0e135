"""Faults of what is printed: inks, tone scales, drying, damp, paper; and the mode it is read under."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from demo.simulator.faults import Fault, Scene, Sign, Told
from demo.simulator.papers import Mode, Paper
from demo.simulator.press import LightInk, Technology


@dataclass(frozen=True, kw_only=True)
class SolidOff(Fault):
    """One ink is laid down stronger or weaker by `size` of its strength, its dots as before."""

    ink: int
    sign: Sign
    cause: ClassVar[str] = "solid-off-aim"
    greatest: ClassVar[float] = 0.6

    def scene(self, scene: Scene) -> Scene:
        return replace(scene, press=scene.press.changed(self.ink, strength=1.0 + self.sign * self.size))

    def told(self) -> Told:
        return Told(self.ink, self.sign)


@dataclass(frozen=True, kw_only=True)
class HeadWear(Fault):
    """A share `size` of one ink's dots never comes out, and what comes out is smaller."""

    ink: int
    cause: ClassVar[str] = "solid-off-aim"
    greatest: ClassVar[float] = 0.4

    def scene(self, scene: Scene) -> Scene:
        return replace(scene, press=scene.press.changed(self.ink, strength=1.0 - 0.5 * self.size, missing=self.size))

    def told(self) -> Told:
        return Told(self.ink, -1)


@dataclass(frozen=True, kw_only=True)
class Drift(Fault):
    """Over weeks one ink leaves its strength, and the others stray a little (`others`, each at most 0.15 of it)."""

    ink: int
    sign: Sign
    others: tuple[float, ...] = ()
    cause: ClassVar[str] = "solid-off-aim"
    greatest: ClassVar[float] = 0.6

    def scene(self, scene: Scene) -> Scene:
        press = scene.press.changed(self.ink, strength=1.0 + self.sign * self.size)
        for ink, share in enumerate(self.others):
            press = press if ink == self.ink else press.changed(ink, strength=1.0 + 0.15 * share * self.size)
        return replace(scene, press=press)

    def told(self) -> Told:
        return Told(self.ink, self.sign)


@dataclass(frozen=True, kw_only=True)
class ToneShift(Fault):
    """One ink's dot gain is off by `size` at half coverage; its solid is right. `skew` as in `Press`."""

    ink: int
    sign: Sign
    skew: float = 0.0
    cause: ClassVar[str] = "tone-shift"
    greatest: ClassVar[float] = 0.25

    def scene(self, scene: Scene) -> Scene:
        press = scene.press.changed(self.ink, gain=self.sign * self.size)
        skew = press.skew.copy()
        skew[self.ink] += self.skew
        return replace(scene, press=replace(press, skew=skew))

    def told(self) -> Told:
        return Told(self.ink, self.sign)


@dataclass(frozen=True, kw_only=True)
class LightInkOff(Fault):
    """The light ink that a driver lays in place of a full one prints `size` too weak or too strong, or, where it is
    `blocked`, so many of its dots are missing. The full ink is right; `alone`, `until`, `density` and `bend` as in
    `LightInk`."""

    ink: int
    sign: Sign
    alone: float
    until: float
    density: float
    bend: float = 1.0
    blocked: bool = False
    cause: ClassVar[str] = "light-ink"
    greatest: ClassVar[float] = 0.9

    def scene(self, scene: Scene) -> Scene:
        strength, missing = (1.0, self.size) if self.blocked else (1.0 + self.sign * self.size, 0.0)
        light = LightInk(self.ink, self.alone, self.until, strength, missing, self.density, self.bend)
        return replace(scene, press=replace(scene.press, light_inks=(*scene.press.light_inks, light)))

    def told(self) -> Told:
        return Told(self.ink, self.sign)


@dataclass(frozen=True, kw_only=True)
class Humidity(Fault):
    """A damp (or dry) room: dots spread more (or less), ink soaks in and looks a little weaker (or stronger)."""

    sign: Sign
    cause: ClassVar[str] = "tone-shift"
    greatest: ClassVar[float] = 0.15

    def scene(self, scene: Scene) -> Scene:
        strength = 1.0 - 0.3 * self.sign * self.size
        return replace(scene, press=scene.press.changed(strength=strength, gain=self.sign * self.size))

    def told(self) -> Told:
        return Told(None, self.sign)


DRYING_HOURS: dict[Technology, float] = {
    "aqueous dye": 6.0, "aqueous pigment": 1.5, "solvent": 8.0, "latex": 0.4, "uv": 0.1,
}  # fmt: skip
"""In which a wet print comes e times nearer to its dry colour (common practice, no published source)."""


@dataclass(frozen=True, kw_only=True)
class Wet(Fault):
    """Read `hours` after printing: darker and more saturated, dying away; `size` is how much when just printed.

    The paper says how much it shows, the technology of the ink how fast it goes; `uneven` (inks) is each ink's share.
    """

    hours: float = 0.0
    uneven: tuple[float, ...] = ()
    cause: ClassVar[str] = "possibly-not-dry"
    greatest: ClassVar[float] = 1.5

    def scene(self, scene: Scene) -> Scene:
        left = self.size * scene.press.paper.wet * float(np.exp(-self.hours / DRYING_HOURS[scene.press.technology]))
        share = np.array(self.uneven or (1.0,) * len(scene.press.ink_set))
        press = scene.press
        press = replace(
            press, strength=press.strength * (1.0 + 0.25 * left * share), gain=press.gain + 0.03 * left * share
        )
        paper = replace(press.paper, surface=press.paper.surface * (1.0 - min(0.5, 0.5 * left)))
        return replace(scene, press=replace(press, paper=paper))


@dataclass(frozen=True, kw_only=True)
class NewLot(Fault):
    """The paper's shade has moved along `white`, `tint` and `brightener` (a direction); inks on it are as before."""

    white: float
    tint: float
    brightener: float
    cause: ClassVar[str] = "substrate-shade"
    greatest: ClassVar[float] = 0.25

    def scene(self, scene: Scene) -> Scene:
        old = scene.press.paper
        paper = replace(
            old,
            white=min(old.white + self.size * self.white, 0.97),
            tint=old.tint + self.size * self.tint,
            brightener=max(0.0, old.brightener + self.size * self.brightener) if old.brightener else 0.0,
        )
        return replace(scene, press=replace(scene.press, paper=paper))


@dataclass(frozen=True, kw_only=True)
class WrongSubstrate(Fault):
    """Printed on another paper, with the tone curves meant for the right one."""

    paper: Paper
    cause: ClassVar[str] = "wrong-substrate"

    def scene(self, scene: Scene) -> Scene:
        return replace(scene, press=replace(scene.press, paper=self.paper))


@dataclass(frozen=True, kw_only=True)
class WrongMode(Fault):
    """Read under another mode than the file's header says or the aim was read under."""

    mode: Mode
    cause: ClassVar[str] = "measurement-mode"

    def scene(self, scene: Scene) -> Scene:
        return replace(scene, mode=self.mode)
