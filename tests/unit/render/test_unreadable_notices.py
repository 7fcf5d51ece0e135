"""Whatever the outbox kept, a letter comes out, ends in its key and names what it is about."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from datetime import datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.adapters.catalogues import localizer
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import Notice
from sentinel.core.message import Language, UnitOfMeasure
from sentinel.render.notices import Form, Letter, Letters, ServiceLimits, every_sample
from sentinel.render.notices.document import tidy
from sentinel.render.notices.letter import plain_letter
from sentinel.render.notices.samples import KEY
from sentinel.render.notices.templates import Templates

Path = tuple[str | int, ...]

LETTERS: dict[Language, Letters] = {each: Letters(localizer=localizer(each, "metric")) for each in ("en", "de", "fr")}
SAMPLES = [(kind, what, facts) for kind, samples in every_sample().items() for what, facts in samples.items()]
ANY_SAMPLE = st.sampled_from(SAMPLES)
OTHER_VALUES: tuple[Any, ...] = (None, True, -1, 0.5, 10**400, "", "north", [], [None], ["x"], {}, {"x": 1}, [[[]]])
SUBJECTS = ("printer", "substrate", "condition", "file_name", "instrument", "about")


def letter_of(kind: str, facts: Any, language: Language = "en") -> Letter:
    return LETTERS[language].letter(Notice(KEY, NoticeKind(kind), "", 0, facts))


def paths(value: Any, so_far: Path = ()) -> Iterator[Path]:
    """Of every value within, facts of the notices of a summary aside: they are samples of their own."""
    within: Any = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, each in within:
        yield (*so_far, name)
        if name != "facts":
            yield from paths(each, (*so_far, name))


def holder_of(facts: Any, path: Path) -> Any:
    for name in path[:-1]:
        facts = facts[name]
    return facts


def without(facts: Any, path: Path) -> Any:
    left = copy.deepcopy(facts)
    del holder_of(left, path)[path[-1]]
    return left


def replaced(facts: Any, path: Path, value: Any) -> Any:
    left = copy.deepcopy(facts)
    holder_of(left, path)[path[-1]] = value
    return left


def subjects(facts: Any) -> list[str]:
    """Names of what the facts are about, those of summaries aside: each of its entries is a notice of its own."""
    if not isinstance(facts, dict):
        return []
    cases = facts.get("conditions")
    own = [facts[name] for name in SUBJECTS if isinstance(facts.get(name), str) and facts[name]]
    if len(own) > 2:  # printer and substrate say what the short name does
        own = own[:2]
    return own + [each for case in (cases if isinstance(cases, list) else []) for each in subjects(case)]


def assert_letter(kind: str, facts: Any, language: Language = "en") -> None:
    letter = letter_of(kind, facts, language)
    whole = letter.message()
    assert len(letter.message(Form.HTML, ServiceLimits(0, 160)).body) <= 160
    assert whole.title
    assert whole.body.endswith(KEY)
    read = f"{whole.title}\n{whole.body}"
    if letter.fault is not None and kind != NoticeKind.SUMMARY.value:
        assert all(tidy(name) in read for name in subjects(facts)), (subjects(facts), read)


@pytest.mark.parametrize(("kind", "what", "facts"), SAMPLES)
def test_every_sample_is_read_whole(kind: str, what: str, facts: Any) -> None:
    letter = letter_of(kind, facts)
    assert letter.fault is None, what
    assert "cannot be read" not in letter.message().body


@pytest.mark.parametrize(("kind", "what", "facts"), SAMPLES)
def test_without_any_one_key_a_letter_comes_out(kind: str, what: str, facts: Any) -> None:
    for path in paths(facts):
        left = without(facts, path)
        letter = letter_of(kind, left)
        body = letter.message().body
        assert body.endswith(KEY), (what, path)
        assert letter.fault is None or kind in ("summary", "on-return") or "cannot be read" in body


@given(ANY_SAMPLE, st.data(), st.sampled_from(sorted(LETTERS)))
def test_with_any_one_key_removed_a_letter_names_what_it_is_about(
    sample: tuple[str, str, Any], data: st.DataObject, language: Language
) -> None:
    kind, _, facts = sample
    path = data.draw(st.sampled_from(list(paths(facts)) or [("",)]))
    assert_letter(kind, facts if path == ("",) else without(facts, path), language)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@given(ANY_SAMPLE, st.data(), st.sampled_from(OTHER_VALUES) | JSON, st.sampled_from(sorted(LETTERS)))
def test_with_any_one_value_replaced_a_letter_names_what_it_is_about(
    sample: tuple[str, str, Any], data: st.DataObject, value: Any, language: Language
) -> None:
    kind, _, facts = sample
    path = data.draw(st.sampled_from(list(paths(facts)) or [("",)]))
    assert_letter(kind, {"": value} if path == ("",) else replaced(facts, path, value), language)


@given(st.sampled_from(list(NoticeKind)), JSON, st.sampled_from(sorted(LETTERS)))
def test_of_no_facts_at_all_a_letter_comes_out(kind: NoticeKind, facts: Any, language: Language) -> None:
    assert_letter(kind.value, facts, language)


@pytest.mark.parametrize("language", LETTERS)
@pytest.mark.parametrize("kind", NoticeKind)
def test_a_plain_letter_says_what_happened_and_where_to_look_in_every_language(
    kind: NoticeKind, language: Language
) -> None:
    facts = {"printer": "North", "substrate": "Satin 240", "version": 99, "reasons": [{"code": "x", "message": "so"}]}
    letter = letter_of(kind.value, facts, language)
    title, body = letter.message()
    name = localizer(language, "metric").text(plain_letter(kind.value, {}).title)
    assert title.startswith(name)
    assert "North / Satin 240" in title
    assert "- so\n" in body
    assert "`sentinel status`" in body
    assert letter.fault is not None
    assert "expected version 1, got 99" in letter.fault
    if language != "en":
        assert "cannot be read" not in body


def test_an_urgent_notice_that_cannot_be_read_holds_prints() -> None:
    letter = letter_of("wrong-stock", {"printer": "North", "urgency": "urgent"})
    assert letter.document.urgent
    assert "hold prints on this stock" in letter.message().body


def test_a_reminder_that_cannot_be_read_says_that_it_is_one() -> None:
    letter = letter_of("check-due", {"step": "reminded", "printer": "North", "substrate": "Satin 240"})
    assert letter.message().title == "Still open: Colour check due: North / Satin 240"


def test_a_summary_tells_what_it_can_read_and_names_the_rest() -> None:
    [facts] = [facts for kind, what, facts in SAMPLES if (kind, what) == ("summary", "a summary")]
    broken = [{"kind": "check-due", "key": "case-90-opened", "facts": {"printer": "South"}},
              {"kind": "of-tomorrow", "key": "case-91-opened", "facts": {"file_name": "a.txt"}}, 5]  # fmt: skip
    letter = letter_of("summary", {**facts, "notices": [*facts["notices"][:5], *broken]})
    body = letter.message().body
    assert "\nColour check due: South:\n" in body
    assert "\nNotice of the sentinel: a.txt:\n" in body
    assert "sentinel notify show case-90-opened\n" in body
    assert "sentinel notify show case-91-opened\n" in body
    assert letter.fault is not None
    assert letter.fault.count("; ") == 2
    assert "case-90-opened: PayloadError: facts: expected 'substrate', got none" in letter.fault


def test_a_mail_names_every_notice_of_a_hundred() -> None:
    """The most pressing are told in part, the others by name: a body has an end."""
    [first] = [facts for kind, what, facts in SAMPLES if what == "a failure again"]
    many = [{"kind": "check-failed", "key": f"case-{number}-opened", "facts": first} for number in range(100)]
    [facts] = [facts for kind, what, facts in SAMPLES if (kind, what) == ("summary", "a summary")]
    body = letter_of("summary", {**facts, "notices": many}).message().body
    assert all(f"sentinel notify show case-{number}-opened" in body for number in range(100))
    assert len(body) < 32_768


def test_no_template_puts_what_cannot_be_read_into_words() -> None:
    letters = Letters(Templates({"check-due.txt": "all is well"}))
    body = letters.letter(Notice(KEY, NoticeKind.CHECK_DUE, "", 0, {"printer": "North"})).message().body
    assert "all is well" not in body


def test_a_zone_that_no_machine_knows_leaves_times_in_utc() -> None:
    [facts] = [facts for kind, what, facts in SAMPLES if what == "a first failure"]
    assert (
        "Measured 2026-07-06 08:30 UTC"
        in letter_of("confirm-failure", {**facts, "timezone": "Moon/Sea"}).message().body
    )
    assert datetime.fromisoformat(facts["check"]["measured_at"]).utcoffset() is not None


def bodies_with(value: Any, unit: UnitOfMeasure) -> list[str]:
    """A notice with this quantity in its reason, in every language and its units."""
    span = {"quantity": value, "unit": unit.value}
    reason = {"code": "x", "message": "so", "pattern": "after {span}", "values": {"span": span}}
    facts = {"printer": "North", "substrate": "Satin 240", "version": 99, "reasons": [reason]}
    notice = Notice(KEY, NoticeKind.CHECK_DUE, "", 0, facts)
    return [
        Letters(localizer=localizer(language, units)).letter(notice).message().body
        for language in LETTERS
        for units in ("metric", "imperial")
    ]


@pytest.mark.parametrize("unit", UnitOfMeasure)
@pytest.mark.parametrize("value", [True, None, "north", 10**400, -(10**400), [], {}])
def test_a_quantity_that_is_none_is_told_as_the_sentence_that_was_kept(value: Any, unit: UnitOfMeasure) -> None:
    assert all("- so\n" in body for body in bodies_with(value, unit))


@pytest.mark.parametrize("unit", UnitOfMeasure)
@pytest.mark.parametrize("value", [1e308, -1e308, float("inf"), float("nan")])
def test_a_quantity_too_large_to_be_written_stops_no_notice(value: float, unit: UnitOfMeasure) -> None:
    assert all("- after " in body for body in bodies_with(value, unit))
