"""A mapping that makes its values when they are asked for."""

from __future__ import annotations

import pytest

from sentinel.settings.resolving import OnFirstUse


class Maker:
    """Doubles numbers, and notes which."""

    def __init__(self) -> None:
        self.made: list[int] = []

    def double(self, number: int) -> int:
        self.made.append(number)
        return 2 * number


def test_nothing_is_made_to_tell_what_is_in_it() -> None:
    maker = Maker()
    doubles = OnFirstUse(range(3), maker.double)
    assert (list(doubles), len(doubles), 2 in doubles, 3 in doubles) == ([0, 1, 2], 3, True, False)
    assert maker.made == []


def test_a_value_is_made_once() -> None:
    maker = Maker()
    doubles = OnFirstUse(range(3), maker.double)
    assert (doubles[2], doubles[2], doubles.get(2)) == (4, 4, 4)
    assert maker.made == [2]


def test_what_is_not_in_it_is_not_made() -> None:
    maker = Maker()
    doubles = OnFirstUse(range(3), maker.double)
    assert doubles.get(3) is None
    with pytest.raises(KeyError):
        doubles[3]
    assert maker.made == []
