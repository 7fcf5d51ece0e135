"""The fast way and the careful one make the same document of the same text."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.measurement.cgats import CgatsDocument, CgatsError, cells, read
from sentinel.core.measurement.cgats.cells import NotPlainError, plain_chunks
from tests.support.amount import amount
from tests.unit.core.measurement.cgats.readings import readings, sheet, styles, text
from tests.unit.core.measurement.cgats.test_damage import DAMAGES

DATASETS = Path(__file__).parents[4] / "data" / "datasets"


def never_plain(*_: object) -> Iterator[object]:
    raise NotPlainError
    yield


def read_carefully(data: bytes) -> CgatsDocument:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cells, "plain_chunks", never_plain)
        return read(data)


def outcome(reader: object, data: bytes) -> object:
    """The document in comparable parts, or the refusal."""
    assert callable(reader)
    try:
        document = reader(data)
    except CgatsError as fault:
        return fault.code, fault.line, fault.column, str(fault)
    return (
        document.identifier,
        document.comments,
        document.assumptions,
        [
            (
                table.fields,
                table.rows,
                dict(table.keywords),
                dict(table.text),
                {field: column.tobytes() for field, column in table.number.items()},
            )
            for table in document.tables
        ],
    )


@settings(max_examples=amount(37, long=150), deadline=None)
@given(st.data())
def test_both_ways_agree_on_rewritten_and_on_damaged_readings(data: st.DataObject) -> None:
    reading = data.draw(readings())
    style = data.draw(styles(reading))
    parts = sheet(reading, style)
    if data.draw(st.booleans()):
        data.draw(st.sampled_from(DAMAGES))(data, reading, style, parts)
    whole = text(parts, style)
    assert outcome(read, whole) == outcome(read_carefully, whole)


WORDS = st.sampled_from(
    ["1", "0.5", "-2", "A1", "1e3", ".5", "$x", "end_data", "BEGIN_DATA", ".INCLUDE", "x_y", "é", "é ", "5"]
)
GAPS = st.sampled_from([" ", "\t", "\n", "\n", "  ", "\t\t", " \n", "\n\n", "\n ", "\n\t", "\u00a0"])


@settings(max_examples=amount(150, long=600), deadline=None)
@given(st.lists(st.tuples(WORDS, GAPS), max_size=12), st.integers(1, 3), st.booleans())
def test_both_ways_agree_on_any_arrangement_of_words(rows: list[tuple[str, str]], width: int, tabs: bool) -> None:
    fields = ("\t" if tabs else " ").join(["SAMPLE_ID", "NOTE", "LAB_L"][:width])
    block = "".join(map("".join, rows))
    data = f"CGATS.17\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n{block}\nEND_DATA\n".encode()
    assert outcome(read, data) == outcome(read_carefully, data)


@pytest.mark.parametrize("name", ["FOGRA39L.txt", "TR006.txt"])
def test_both_ways_agree_on_published_data(name: str) -> None:
    data = (DATASETS / name).read_bytes()
    assert outcome(read, data) == outcome(read_carefully, data)


@pytest.mark.parametrize("mark", ["\t", " ", "    "])
def test_plain_rows_take_the_fast_way_and_many_chunks_join(mark: str, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(3)
    values = rng.random((3000, 5)).round(6)
    rows = "\n".join(mark.join([str(number), *map(str, row)]) for number, row in enumerate(values.tolist()))
    fields = mark.join(["SAMPLE_ID", *(f"SPECTRAL_NM{400 + 10 * band}" for band in range(5))])
    data = f"CGATS.17\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n{rows}\nEND_DATA\n".encode()
    chunks = 0

    def counted(*arguments: object) -> Iterator[object]:
        nonlocal chunks
        for chunk in plain_chunks(*arguments):  # type: ignore[arg-type]
            chunks += 1
            yield chunk

    monkeypatch.setattr(cells, "plain_chunks", counted)
    table = read(data).tables[0]
    assert chunks > 1
    assert table.text["SAMPLE_ID"][-1] == "2999"
    for band in range(5):
        np.testing.assert_array_equal(table.number[f"SPECTRAL_NM{400 + 10 * band}"], values[:, band])
