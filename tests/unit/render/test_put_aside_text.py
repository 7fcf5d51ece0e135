"""The text beside a file that was put aside, and the advice for every reason."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

import sentinel
from sentinel.core.conditions.checks import UnscoredFile
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Reason
from sentinel.render.put_aside import MOST_FAULTS, reason_text, refused_text
from sentinel.render.remedies import FILE_STEPS, what_to_do_with_file
from tests.unit.core.builders import NOON

HELSINKI = ZoneInfo("Europe/Helsinki")


def record(*reasons: Reason, folder: str = "north/satin-240") -> UnscoredFile:
    return UnscoredFile("0" * 64, "monday.txt", "origin", folder, reasons, NOON, NOON, "monday.txt")


def refusals(tree: ast.AST) -> Iterator[str]:
    """The code in every `Unscored(Code.X, …)` and `unscored(Reason(Code.X, …))`, and of a Reason raised by name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("Unscored", "unscored"):
            for inner in ast.walk(node):
                if isinstance(inner, ast.Attribute) and isinstance(inner.value, ast.Name) and inner.value.id == "Code":
                    yield inner.attr


@cache
def codes_of_refusals() -> list[Code]:
    package = Path(sentinel.__file__).parent
    texts = (path.read_text(encoding="utf-8") for path in sorted(package.rglob("*.py")))
    named = {name for text in texts if "nscored(" in text for name in refusals(ast.parse(text))}
    # raised from a reason that was made before
    return sorted({Code[name] for name in named} | {Code.M_CONDITION_UNKNOWN, Code.CONDITION_NOT_MEASURABLE})


def test_the_refusals_of_the_program_are_found_in_its_text() -> None:
    assert {Code.NOT_A_FILE, Code.NOT_READABLE, Code.ROUTE_UNKNOWN, Code.NOT_D50_2} <= set(codes_of_refusals())
    assert Code.ACTION_LIMIT not in codes_of_refusals()


@pytest.mark.parametrize("code", codes_of_refusals())
def test_every_reason_for_which_a_file_is_not_scored_has_its_advice(code: Code) -> None:
    assert [step for group, step in FILE_STEPS.items() if code.value in group]
    assert len(what_to_do_with_file([code.value])) == 2


@pytest.mark.parametrize("code", [code for group in FILE_STEPS for code in group])
def test_advice_is_given_for_codes_that_exist(code: str) -> None:
    assert code in {each.value for each in Code}


def test_advice_ends_with_dropping_the_file_again_and_gives_each_step_once() -> None:
    steps = what_to_do_with_file(["printer-unknown", "substrate-unknown", "not-readable"])
    assert len(steps) == len(set(steps)) == 3
    assert str(steps[-1]) == "Then save the file in the drop folder again; nothing was lost."


def test_the_text_says_which_file_when_why_and_what_to_do() -> None:
    refused = record(
        Reason(Code.TOO_FEW_PATCHES, msg("expected at least 90% of the 72 patches, got 40")),
        Reason(Code.M_CONDITION_MISMATCH, msg("expected measurement condition M1, got M0")),
    )
    text = reason_text(refused, refused.arrived_at.astimezone(HELSINKI))
    assert text.splitlines()[:2] == [
        "monday.txt was not scored.",
        "Arrived: 2026-03-02 14:00 EET, in folder: north/satin-240",
    ]
    why, advice = text.split("Why:\n")[1].split("\n\nWhat to do:\n")
    assert why.splitlines() == [
        "- expected at least 90% of the 72 patches, got 40 (too-few-patches)",
        "- expected measurement condition M1, got M0 (m-condition-mismatch)",
    ]
    assert "See that the right chart was read" in advice
    assert "Measure under the measurement condition of its aim" in advice
    assert text.endswith("nothing was lost.\n")


def test_a_file_from_the_top_of_the_drop_folder_is_said_to_be() -> None:
    assert "in folder: (top)" in reason_text(record(folder=""), NOON)


def test_a_refused_file_has_its_faults_and_what_to_do() -> None:
    text = refused_text("events.csv", [msg("line 2: expected this, got that")], NOON.astimezone(HELSINKI))
    assert text.startswith("No event of events.csv was taken.\nArrived: 2026-03-02 14:00 EET\n\nWhy:\n- line 2: ")
    assert text.endswith("save the whole file in the events folder again; nothing was lost.\n")


def test_very_many_faults_are_counted_instead_of_told() -> None:
    faults = [msg("line {number}: bad", number=number) for number in range(2, MOST_FAULTS + 5)]
    text = refused_text("events.csv", faults, NOON)
    assert f"- line {MOST_FAULTS + 1}: bad\n- and 3 more faults\n" in text


@pytest.mark.parametrize(
    ("code", "told"),
    [
        ("route-unknown", "add a route for it"),
        ("route-ambiguous", "tell of different printing conditions"),
        ("printer-unknown", "this spelling of it"),
        ("substrate-unknown", "this spelling of it"),
        ("condition-unknown", "add the printing condition"),
        ("mode-unknown", "in the folder of its print mode"),
    ],
)
def test_advice_knows_what_of_the_printing_condition_is_missing(code: str, told: str) -> None:
    first, last = what_to_do_with_file([code])
    assert told in str(first)
    assert str(last).startswith("Then save the file")
