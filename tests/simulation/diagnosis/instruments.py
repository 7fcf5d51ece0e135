"""Sheets read with another instrument than their aim, some with a fault on top: how often it is named.

    python -m tests.simulation.diagnosis.instruments 120 [--seed N] [--told yes|no|same]

Checks are those of the fitting world; the second instrument has nothing of the diagnosis' own departures. It errs as
spectrophotometers do: zero, scale, linearity, wavelength and band-pass (Robertson, Color Res. Appl. 12, 1987; Berns and
Petersen, Color Res. Appl. 13, 1988; both from memory), and its lamp has another share of ultraviolet. Together that
comes to a mean ΔE00 of 0.5 to 2.5 (common practice, no published source).
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from demo.simulator.checks import LabelledCheck
from demo.simulator.files import Export, Values, cgats
from demo.simulator.rooms import Kind, World
from demo.simulator.spectra import FloatArray, lab_of
from sentinel.core.colour.difference import de00
from tests.simulation.diagnosis.by_command import diagnose
from tests.simulation.diagnosis.judging import Finding, findings_of
from tests.simulation.diagnosis.samples import Sample
from tests.simulation.diagnosis.worlds import FITTING

Told = Literal["yes", "no", "same"]
CAUSE = "another-instrument"
CASES = ("healthy", "tone shift", "healthy", "solid off", "healthy", "new lot", "healthy", "wrong scale", "wet",
         "wrong mode")  # fmt: skip
APART = (0.5, 2.5)
"""Mean ΔE00 between the instruments."""
FORMS: tuple[tuple[Kind, Values], ...] = (("full", "spectra"), ("short", "spectra"), ("full", "Lab"), ("short", "Lab"))


@dataclass(frozen=True, slots=True)
class OtherInstrument:
    """Its errors against the first: of zero (reflectance), scale, linearity (shares), wavelength (bands), band-pass
    (square bands), and of the ultraviolet (share of a brightener's light)."""

    zero: float
    scale: float
    linearity: float
    shift: float
    band_pass: float
    ultraviolet: float

    def times(self, size: float) -> OtherInstrument:
        """The same errors, so many times as large."""
        return OtherInstrument(
            *(size * each for each in (
                self.zero, self.scale, self.linearity, self.shift, self.band_pass, self.ultraviolet
            ))
        )  # fmt: skip

    def reads(self, spectra: FloatArray, brightened: FloatArray) -> FloatArray:
        """What it makes of `spectra` (patches, bands); `brightened` is the brightener's part of their light."""
        slope = np.gradient(spectra, axis=1)
        seen: FloatArray = (
            spectra
            + self.zero
            + self.scale * spectra
            + self.linearity * spectra * (1 - spectra)
            + self.shift * slope
            + self.band_pass * np.gradient(slope, axis=1)
            + self.ultraviolet * brightened
        )
        return np.maximum(seen, 1e-4)


def drawn(rng: np.random.Generator) -> OtherInstrument:
    """Errors in the proportions of instruments in order, signs by chance."""
    usual = np.array([0.0008, 0.008, 0.008, 0.06, 0.08, 0.12])
    return OtherInstrument(*(usual * rng.normal(size=6)).tolist())


def read_by_another(rng: np.random.Generator, check: LabelledCheck, apart: float) -> FloatArray:
    """The reading of a check as another instrument gives it, `apart` (mean ΔE00) from the first."""
    press, device = check.scene.press, check.chart.device
    lit = 1.0 if check.scene.mode == "M2" else {"M0": press.paper.under_m0, "M1": 1.0}[check.scene.mode]
    brightened = lit * (press.spectra(device, "M1") - press.spectra(device, "M2"))
    other, size = drawn(rng), 1.0
    for _ in range(6):
        found = de00(lab_of(check.reading), lab_of(other.times(size).reads(check.reading, brightened))).mean()
        size *= apart / float(found)
    return other.times(size).reads(check.reading, brightened)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One check: what is wrong beside the instrument, how far that is apart, and what was found."""

    case: str
    apart: float
    findings: Sequence[Finding]
    answer: frozenset[str]

    @property
    def named(self) -> bool:
        """Whether the instrument is in the answer."""
        return CAUSE in self.answer


def outcome(world: World, number: int, told: Told) -> Outcome:
    """The check of this number: drawn, read with another instrument (or, `same`, with the aim's own), diagnosed."""
    case, (kind, values) = CASES[number % len(CASES)], FORMS[number // len(CASES) % len(FORMS)]
    check = Sample(world, number, (case,), kind, values).draw()
    rng = np.random.default_rng([world.seed, number, 77])
    apart = float(rng.uniform(*APART)) if told != "same" else 0.0
    reading = read_by_another(rng, check, apart) if apart else check.reading
    export = Export(values, check.places, check.room.mode, serial={"yes": "SIM-0002"}.get(told, "SIM-0001"))
    text = cgats(check.chart, reading, export)
    if told == "no":
        text = "\n".join(line for line in text.splitlines() if "SERIAL" not in line)
    found = diagnose(text, check.target, check.rivals, check.inks)
    return Outcome(
        case, apart, findings_of(found["diagnosis"], None), frozenset(each["cause"] for each in found["answer"])
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Runs a study and prints its table."""
    parser = argparse.ArgumentParser(description="How often another instrument is named.")
    parser.add_argument("checks", type=int)
    parser.add_argument("--seed", type=int, help="another seed of the world")
    parser.add_argument("--told", choices=("yes", "no", "same"), default="yes", help="whether serial numbers tell it")
    options = parser.parse_args(arguments)
    world = FITTING if options.seed is None else replace(FITTING, seed=options.seed)
    found = [outcome(world, number, options.told) for number in range(options.checks)]
    for case in dict.fromkeys(CASES):
        of = [each for each in found if each.case == case]
        answers = Counter(" + ".join(sorted(each.answer)) or "(nothing)" for each in of)
        most = "; ".join(f"{name} {count}" for name, count in answers.most_common())
        sys.stdout.write(f"{case}: instrument named {sum(each.named for each in of)} of {len(of)}: {most}\n")


if __name__ == "__main__":
    main()
