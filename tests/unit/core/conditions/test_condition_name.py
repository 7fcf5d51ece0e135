from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.conditions.name import ConditionName, folded


@pytest.mark.parametrize("text", ["north/satin-240", "north/satin-240/fine"])
def test_a_name_is_read_as_it_is_written(text: str) -> None:
    assert str(ConditionName.parse(text)) == text


@pytest.mark.parametrize("text", ["", "north", "north/", "/satin", "a/b/c/d", "north/ satin", "north//fine", "a/b/"])
def test_what_is_no_name_is_none(text: str) -> None:
    assert ConditionName.parse(text) is None


@given(st.text(st.sampled_from("abcXYZ019äßĿǅ -_.\t")))
def test_folding_twice_is_folding_once(spelling: str) -> None:
    assert folded(folded(spelling)) == folded(spelling)


def test_digits_and_other_marks_still_tell_spellings_apart() -> None:
    assert folded("satin-240") != folded("satin-24")
    assert folded("satin.240") != folded("satin-240")
