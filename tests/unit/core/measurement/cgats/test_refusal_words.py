"""What a refusal says, kept as a pattern so that another language can say it: with its place, and in JSON."""

from __future__ import annotations

import json

import pytest

from sentinel.core.measurement.cgats import CgatsError, Refused, measurements, read
from sentinel.core.message import Message, msg

ROWS = msg("expected {count} row", "expected {count} rows", count=2)
HEADER = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID {fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n"
PAIRS = HEADER.format(fields="SPECTRAL_NM SPECTRAL_DEC SPECTRAL_NM SPECTRAL_DEC") + "{rows}END_DATA\n"
TEXTS = {
    "empty-file": "",
    "no-data": "CGATS.17\n",
    "bad-keyword": "CGATS.17\n\"a\" b\nBEGIN_DATA\n",
    "unclosed-quote": "CGATS.17\nORIGINATOR \"{north}\nBEGIN_DATA\n",
    "short-row": HEADER.format(fields="LAB_L LAB_A LAB_B") + "1 2 3\nEND_DATA\n",
    "not-a-number": HEADER.format(fields="LAB_L LAB_A LAB_B") + "1 {x} 3 4\nEND_DATA\n",
    "value-implausible": HEADER.format(fields="XYZ_X XYZ_Y XYZ_Z") + "1 900 90 90\n2 10 90 90\nEND_DATA\n",
    "wavelength-varies": PAIRS.format(rows="1 380 0.5 390 0.5\n2 - 0.5 390 0.5\n"),
    "wavelength-irregular": PAIRS.format(rows="1 380 0.5 383.0 0.5\n"),
}  # fmt: skip


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        (0, 0, "expected 2 rows"),
        (7, 0, "line 7: expected 2 rows"),
        (7, 3, "line 7, column 3: expected 2 rows"),
    ],
)
def test_a_refusal_tells_its_place_first(line: int, column: int, words: str) -> None:
    fault = CgatsError(Refused.ROW_COUNT, ROWS, line, column)
    assert str(fault) == str(fault.sentence) == words
    assert dict(fault.sentence.values).get("message", fault.sentence) == ROWS


@pytest.mark.parametrize(("code", "text"), TEXTS.items(), ids=TEXTS)
def test_a_refusal_can_be_kept_and_said_again(code: str, text: str) -> None:
    with pytest.raises(CgatsError) as caught:
        measurements(read(text.encode()))
    fault = caught.value
    assert fault.code == code
    kept = json.loads(json.dumps(fault.sentence.as_json(), allow_nan=False))
    assert Message.from_json(kept) == fault.sentence
    assert str(Message.from_json(kept)) == str(fault)
