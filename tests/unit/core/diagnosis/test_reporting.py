"""What a finding says, for programs and for people."""

from __future__ import annotations

import json
from itertools import product

import pytest

from sentinel.core.diagnosis.causes import Cause, Sign
from sentinel.core.diagnosis.findings import Evidence, sentence
from sentinel.core.message import Message, msg


def test_evidence_tells_beside_its_sentence_how_that_is_made_and_its_figures() -> None:
    told = Evidence(sentence(Cause.SOLID, "M", -1, 3.25), {"de00": 3.25}).as_json()
    assert told == {
        "sentence": "ink M weaker than in the aim, by up to 3.2 ΔE00",
        "pattern": "{inks} weaker than in the aim, by up to {size:.1f} ΔE00",
        "values": {
            "inks": {"message": "ink M", "pattern": "ink {ink}", "values": {"ink": "M"}},
            "size": 3.25,
        },
        "de00": 3.25,
    }


def test_evidence_without_values_is_its_sentence_and_its_figures() -> None:
    words = msg("every strip was read from the wrong end")
    assert Evidence(words, {"patches": 80}).as_json() == {"sentence": str(words), "patches": 80}


@pytest.mark.parametrize("cause", Cause)
def test_a_sentence_is_the_same_when_it_comes_back_from_where_it_was_kept(cause: Cause) -> None:
    inks: tuple[str | None, ...] = (None, "M")
    signs: tuple[Sign | None, ...] = (None, 1, -1)
    for ink, sign in product(inks, signs):
        made = sentence(cause, ink, sign, 2.5)
        kept = json.loads(json.dumps(Evidence(made, {"de00": 2.5}).as_json()))
        assert Message.from_json({**kept, "message": kept["sentence"]}) == made
        assert "2.5 ΔE00" in str(made)
