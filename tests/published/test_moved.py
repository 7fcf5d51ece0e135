"""What is said of moved solids and overprints, against colour-science (github.com/colour-science/colour).

The data of ANSI/CGATS/GRACoL TR 006-2007 as a reading of FOGRA39L. A solid is one colour, so what moved is
the CIEDE2000 of two colours, which the library makes from the Lab of the files; no reader of ours stands beside it.
"""

from __future__ import annotations

from collections.abc import Callable

import colour
import numpy as np

from sentinel.core.diagnosis.moved import moved
from sentinel.core.diagnosis.movement import What
from sentinel.core.diagnosis.sheet import DiagnosisSubject
from tests.published.test_check_datasets import plain

Record = Callable[..., None]
INKS = ("C", "M", "Y", "K")


def test_a_moved_solid_is_as_far_off_as_a_library_says(record_deviation: Record) -> None:
    aim, read = plain("FOGRA39L"), plain("TR006")
    patches = sorted(aim.keys() & read.keys())
    device = np.array(patches)
    paper = np.asarray((device == 0).all(axis=1))
    aims, readings = (np.array([side[patch] for patch in patches]) for side in (aim, read))
    off, parts = [], []
    for each in moved(DiagnosisSubject(INKS, device, True, paper, aims, readings), beyond_limit=True):
        if each.part.what in (What.SOLID, What.OVERPRINT) and each.count == 1 and each.part.ink:
            amounts = tuple(100.0 if ink in each.part.ink.split("+") else 0.0 for ink in INKS)
            expected = float(colour.delta_E(aim[amounts], read[amounts], method="CIE 2000"))
            off += [abs(each.de00 - expected), *np.abs(read[amounts] - aim[amounts] - each.lab)]
            parts.append(each.part.ink)
    assert {"M", "C+M"} & set(parts)
    what = "Moved solids and overprints, TR 006 read against FOGRA39L: colour-science"
    record_deviation(what, len(off), max(off), 1e-9)
