"""Conditions on device values: they mean what Python says they mean, and nothing else of Python is let in."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sentinel.core.scoring.expression import LONGEST, Expression, ExpressionError

VALUES = {"C": 20.0, "M": 50.0, "Y": 50.0, "K": 0.0, "total": 120.0}


@pytest.mark.parametrize(
    ("text", "truth"),
    [
        ("C < 20.5", True),
        ("C < 20", False),
        ("C <= 20", True),
        ("C > 20", False),
        ("C >= 20", True),
        ("C == 20", True),
        ("C != 20", False),
        ("M == Y", True),
        ("C + M == 70", True),
        ("M - C == 30", True),
        ("C * 2 == 40", True),
        ("M / 2 == 25", True),
        ("-C < 0", True),
        ("- -C == 20", True),
        ("C > 0 and M > 0", True),
        ("C > 0 and K > 0", False),
        ("C > 0 or K > 0", True),
        ("K > 0 or Y > 60", False),
        ("not K > 0", True),
        ("not (K > 0 or C > 0)", False),
    ],
)
def test_every_operator_does_what_it_says(text: str, truth: bool) -> None:
    assert bool(Expression(text)(VALUES)) is truth


@pytest.mark.parametrize(
    ("text", "truth"),
    [
        ("C + M * 2 == 120", True),
        ("(C + M) * 2 == 140", True),
        ("100 - C - M == 30", True),
        ("100 - (C - M) == 130", True),
        ("100 / C / 5 == 1", True),
        ("-C + M == 30", True),
        ("C > 0 or K > 0 and K > 50", True),
        ("(C > 0 or K > 0) and K > 50", False),
        ("not C > 0 and K > 0", False),
        ("not (C > 0 and K > 0)", True),
        ("not not C > 0", True),
        ("0 < C < M", True),
        ("0 < C < M < Y", False),
        ("0 <= K < C <= 20 < total", True),
        ("((((C)))) > ((0))", True),
    ],
)
def test_precedence_chains_and_brackets_are_those_of_python(text: str, truth: bool) -> None:
    assert bool(Expression(text)(VALUES)) is truth
    assert eval(text, {}, dict(VALUES)) is truth  # noqa: S307 - the text is our own


@pytest.mark.parametrize("text", ["C > 0", "  C > 0\n", "C>0", "C > 0  # light", "C > 00", "C > 0.0", "C > 0e3"])
def test_a_condition_may_be_written_as_one_likes(text: str) -> None:
    assert Expression(text)(VALUES) is True


def test_names_are_those_it_uses() -> None:
    assert Expression("C > 0 and not M == total / ink3").names == {"C", "M", "total", "ink3"}
    assert Expression("1 < 2").names == set()


def test_all_patches_are_told_at_once() -> None:
    values = {"C": np.array([0.0, 10, 20]), "M": np.array([0.0, 10, 5])}
    assert Expression("C == M and not C > 5")(values).tolist() == [True, False, False]
    assert Expression("0 < M <= C")(values).tolist() == [False, True, True]


NUMBERS = st.one_of(st.integers(0, 120), st.sampled_from([0.5, 2.25, 99.9, 1e2])).map(repr)
TERMS = st.recursive(
    st.one_of(NUMBERS, st.sampled_from(sorted(VALUES))),
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(" ".join),
        inner.map("-{}".format),
        inner.map("({})".format),
    ),
    max_leaves=6,
)
COMPARED = st.tuples(TERMS, st.sampled_from(["<", "<=", ">", ">=", "==", "!="]), TERMS).map(" ".join)
CHAINED = st.tuples(COMPARED, st.sampled_from(["<", "<=", "==", "!="]), TERMS).map(" ".join)
CONDITIONS = st.recursive(
    st.one_of(COMPARED, CHAINED),
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from(["and", "or"]), inner).map(" ".join),
        inner.map("not {}".format),
        inner.map("({})".format),
    ),
    max_leaves=5,
)
AMOUNTS = st.fixed_dictionaries({name: st.sampled_from([0.0, 0.5, 20.0, 50.0, 100.0]) for name in VALUES})


@given(CONDITIONS, st.lists(AMOUNTS, min_size=1, max_size=4))
def test_a_condition_means_what_python_says(text: str, patches: list[dict[str, float]]) -> None:
    """Against Python's own eval, patch by patch, and all of them at once."""
    assume(len(text) <= LONGEST)
    try:
        expected = [bool(eval(text, {}, dict(patch))) for patch in patches]  # noqa: S307 - made of the names above
    except ZeroDivisionError:
        assume(False)
    try:
        condition = Expression(text)
    except ExpressionError:
        assert " / " in text  # by a number that is nought, where Python's `and` or `or` did not come to it
        assume(False)
    try:
        assert [bool(condition(patch)) for patch in patches] == expected
    except ZeroDivisionError:
        assume(False)  # Python did not come to it
    together = {name: np.array([patch[name] for patch in patches]) for name in VALUES}
    with np.errstate(divide="ignore", invalid="ignore"):
        assert np.broadcast_to(condition(together), len(patches)).tolist() == expected


REFUSED = {
    "nothing": "",
    "a number": "1",
    "an ink": "C",
    "a truth": "True",
    "a truth as a number": "C > True",
    "none": "C == None",
    "dots": "C > ...",
    "text": "C > 'x'",
    "text alone": "'C > 0'",
    "bytes": "C > b'x'",
    "an imaginary number": "C > 1j",
    "inks as truths": "C and M",
    "an ink as a truth": "not C",
    "a truth in a sum": "(C > 0) + 1 > 0",
    "a truth compared": "(C > 0) == 1",
    "a call": "abs(C) > 0",
    "an import": "__import__('os').system('true') > 0",
    "an attribute": "C.real > 0",
    "an attribute of a number": "(1).__class__ > 0",
    "an item": "C[0] > 0",
    "a slice": "C[:] > 0",
    "a list": "C in [1, 2]",
    "a tuple": "(C, M) > (0, 0)",
    "a set": "C in {1}",
    "a dictionary": "C == {}",
    "a comprehension": "[C for C in M] > 0",
    "a generator": "all(C > 0 for C in M)",
    "a lambda": "(lambda: C) > 0",
    "a choice": "(C if M > 0 else Y) > 0",
    "a walrus": "(C := 1) > 0",
    "an assignment": "C = 0",
    "two statements": "C > 0; M > 0",
    "two lines": "C > 0\nM > 0",
    "a formatted text": "f'{C}' > 0",
    "a star": "*C > 0",
    "a yield": "(yield C) > 0",
    "an await": "await C > 0",
    "a power": "C ** 2 > 0",
    "a remainder": "C % 2 > 0",
    "a floor": "C // 2 > 0",
    "a matrix product": "C @ M > 0",
    "a shift": "C << 1 > 0",
    "a bit and": "C & M > 0",
    "a bit not": "~C > 0",
    "a plus": "+C > 0",
    "identity": "C is M",
    "membership": "C in M",
    "half of one": "C > 0 and",
    "an open bracket": "(C > 0",
    "another language": "C && M",
    "a null byte": "C\0 > 0",
    "no character": "\ud800 > 0",
}


@pytest.mark.parametrize("text", REFUSED.values(), ids=REFUSED)
def test_what_is_no_condition_is_refused_with_what_came(text: str) -> None:
    with pytest.raises(ExpressionError) as refusal:
        Expression(text)
    assert str(refusal.value).startswith("expected ")
    assert str(refusal.value).endswith(f", got {text!r}")


def test_a_condition_of_the_longest_length_is_taken_and_a_longer_one_refused() -> None:
    text = "C > 0".ljust(LONGEST)
    assert Expression(text)(VALUES) is True
    with pytest.raises(ExpressionError, match=f"at most {LONGEST} characters, got {LONGEST + 1}"):
        Expression(f"{text} ")


@pytest.mark.parametrize(
    "text",
    ["-" * 490 + "C > 0", "1+" * 240 + "C > 0", "not " * 120 + "C > 0", "(" * 180 + "C" + ")" * 180 + " > 0"],
    ids=["minus", "sum", "not", "brackets"],
)
def test_deep_conditions_within_that_length_are_taken(text: str) -> None:
    assert Expression(text)(VALUES) in (True, False)


@pytest.mark.parametrize(
    "text",
    ["C > 1 / 0", "C / 0 > 1", "1 / (2 - 2) > C", "K > 0 and 0 / 0.0 < 1", "-(1 / -0) > C", f"C > {'9' * 400}"],
    ids=["one by nought", "an ink by nought", "a sum of nought", "behind and", "negative", "a number of 400 digits"],
)
def test_arithmetic_that_no_number_comes_of_is_refused_at_once(text: str) -> None:
    """Found by the settings with its line, not by the service at the first sheet."""
    with pytest.raises(ExpressionError, match=r"^expected "):
        Expression(text)
