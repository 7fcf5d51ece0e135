"""Rows that surely fit are passed at once; that changes no reading and no refusal."""

from __future__ import annotations

import random

import pytest

from sentinel.core.measurement.cgats import CgatsError, cells, read, survey
from sentinel.core.measurement.cgats.rows import SureRows
from tests.fuzz import grammar
from tests.fuzz.fuzz_cgats import mutate
from tests.fuzz.growth import steps
from tests.fuzz.hostile import LAB, MEASUREMENTS, NUMBERS, many, table
from tests.support.amount import amount


def told(data: bytes) -> object:
    try:
        document = read(data)
    except CgatsError as fault:
        return str(fault), fault.code
    return [(each.fields, {name: each.text[name] for name in each.fields}) for each in document.tables], [
        str(note) for note in document.assumptions
    ]


@pytest.fixture
def carefully(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    monkeypatch.setattr(cells, "sure_rows", lambda _raw, section, _layout: SureRows(0, section.start))
    return monkeypatch


def texts() -> list[bytes]:
    shapes = [shape(2000) for shape in MEASUREMENTS.values()]
    rng = random.Random(11)
    sheets = [grammar.sheet(rng) for _ in range(amount(150, long=3000))]
    others = [lambda: rng.choice(sheets)]
    last = [
        table(LAB, [*many(NUMBERS, 300), row]) for row in ("1\t2", "1\t50\tx\t2", '1\t"', "\t", "1\t50\t1\t", "# x")
    ]
    return [*shapes, *sheets, *(mutate(rng, sheet, others) for sheet in sheets), *(each.encode() for each in last)]


def test_what_is_read_and_refused_is_the_same_without_them(carefully: pytest.MonkeyPatch) -> None:
    every = texts()
    careful = [told(data) for data in every]
    carefully.undo()
    assert [told(data) for data in every] == careful


def test_a_row_that_fails_at_the_end_costs_a_few_steps_a_row() -> None:
    data = table(LAB, [*many(NUMBERS, 50_000), "1\t2"]).encode()
    assert steps(survey, data) < len(data) / 2
