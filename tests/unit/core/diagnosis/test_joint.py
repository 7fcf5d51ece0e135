"""Sets of causes: marginals and the fewest that answer, against sums done by hand."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.design_matrix import Design
from sentinel.core.diagnosis.explanations import CausePart, Explanation
from sentinel.core.diagnosis.joint import FigureBasis, Possibility, either, fewest, healthy, marginals

TONE, SHADE, ORDER, ODD = (CausePart(each) for each in (Cause.TONE, Cause.SHADE, Cause.PATCH_ORDER, Cause.OUTLYING))
NONE = np.zeros(0, dtype=bool)
SOURCE = FigureBasis((), (), NONE, NONE, Design((), np.zeros((0, 3, 0)), np.zeros(3)), np.zeros((0, 3)), {}, NONE)


def sets(*shares: tuple[tuple[CausePart, ...], float]) -> list[Possibility]:
    return [Possibility(parts, share, Explanation(parts, 0.0, np.zeros(0)), SOURCE) for parts, share in shares]


def test_a_marginal_is_the_share_of_all_sets_with_the_cause_given_that_something_is_wrong() -> None:
    possible = sets(((), 0.2), ((TONE,), 0.4), ((TONE, SHADE), 0.32), ((SHADE,), 0.08))
    assert healthy(possible) == pytest.approx(0.2)
    assert marginals(possible) == pytest.approx({TONE: 0.9, SHADE: 0.5})


def test_the_answer_holds_the_true_set_with_enough_and_is_the_smallest_that_does() -> None:
    possible = sets(((TONE,), 0.6), ((TONE, SHADE), 0.32), ((ODD,), 0.08))
    likely = marginals(possible)
    assert fewest(possible, likely, 0.6) == {TONE}
    assert fewest(possible, likely, 0.9) == {TONE, SHADE}
    assert fewest(possible, likely, 0.95) == {TONE, SHADE, ODD}


def test_two_causes_that_exclude_each_other_answer_together() -> None:
    possible = sets(((TONE,), 0.5), ((SHADE,), 0.45), ((ODD,), 0.05))
    assert fewest(possible, marginals(possible), 0.9) == {TONE, SHADE}


def test_what_may_come_beside_anything_is_a_cause_of_its_own() -> None:
    possible = either(sets(((), 0.5), ((TONE,), 0.5)), Cause.PATCH_ORDER, 0.8)
    assert sum(each.share for each in possible) == pytest.approx(1.0)
    assert healthy(possible) == pytest.approx(0.1)
    assert marginals(possible) == pytest.approx({TONE: 0.5 / 0.9, ORDER: 0.8 / 0.9})


def test_a_cause_is_in_no_set_twice() -> None:
    possible = either(sets(((ODD,), 1.0)), Cause.OUTLYING, 0.5)
    assert [each.parts for each in possible] == [(ODD,), (ODD,)]
    assert marginals(possible) == pytest.approx({ODD: 1.0})
