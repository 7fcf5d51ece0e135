"""Events out of texts: every name in whatever spelling, every figure and time in range, or a sentence that says why."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from sentinel.core.conditions.calendar import Weekday
from sentinel.core.conditions.event_input import EventError, Known, event_from, moment, name_of, one_line
from sentinel.core.conditions.events import (
    ANSWERED_FOR,
    FACTS,
    KEPT_AS,
    OF_PRINTER,
    OF_STOCK,
    REQUIRED,
    WORDS,
    Event,
    EventKind,
)
from sentinel.core.conditions.name import Catalogue, ConditionName
from tests.support.clock import NOON

LISBON = ZoneInfo("Europe/Lisbon")
NAMES = Catalogue(
    printers={"north": "north", "bignorth": "north", "south": "south"},
    substrates={"satin240": "satin-240", "satin240g": "satin-240", "matte190": "matte-190"},
    conditions=frozenset(
        {ConditionName("north", "satin-240", "fine"), ConditionName("north", "matte-190", "Draft"),
         ConditionName("south", "satin-240")}
    ),
)  # fmt: skip
KNOWN = Known(NAMES, LISBON, NOON)


def event(**texts: str) -> Event:
    """An event of the printer north, unless said otherwise."""
    return event_from({"printer": "north", **texts}, KNOWN)


def refusal(**texts: str) -> str:
    with pytest.raises(EventError) as caught:
        event(**texts)
    return str(caught.value)


def test_an_event_holds_all_that_was_told() -> None:
    told = event(
        kind="roll-loaded", substrate="satin-240", mode="fine", at="2026-03-01T09:30+01:00", by="Ana",
        core_inches="3", metres="30.5", width_mm="1118", note="coated side  out",
    )  # fmt: skip
    assert told == Event(
        kind=EventKind.ROLL_LOADED,
        at=datetime(2026, 3, 1, 8, 30, tzinfo=UTC),
        printer="north",
        substrate="satin-240",
        mode="fine",
        facts={"core_inches": 3.0, "metres": 30.5, "width_mm": 1118.0, "note": "coated side out"},
        told_by="Ana",
    )


def test_an_event_that_does_not_say_when_happened_now() -> None:
    assert event(kind="service").at == NOON


def test_an_event_of_a_file_that_does_not_say_when_happened_when_the_file_was_written() -> None:
    written = NOON - timedelta(hours=3)
    assert event_from({"kind": "service", "printer": "north"}, KNOWN, written).at == written


def test_names_are_taken_in_any_spelling_as_routes_take_them() -> None:
    told = event_from(
        {"Kind": "Roll_Loaded", "PRINTER": "Big North", "Substrate": "Satin 240 g", "mode": "FINE", "Core inches": "2"},
        KNOWN,
    )
    assert (told.kind, told.printer, told.substrate, told.mode) == ("roll-loaded", "north", "satin-240", "fine")
    assert told.facts == {"core_inches": 2.0}


def test_empty_texts_count_as_absent() -> None:
    told = event(kind="service", substrate="", mode=" ", at="", by="\t", note="")
    assert told == Event(EventKind.SERVICE, NOON, "north")


REFUSED = {
    "a pin on no day": (
        {"kind": "check-wanted", "by": "Ana", "why": "a job"},
        "expected either on or every with check-wanted, got none of them",
    ),
    "a pin on two days": (
        {"kind": "check-wanted", "by": "Ana", "why": "a job", "on": "2026-03-04", "every": "monday"},
        "expected either on or every with check-wanted, got both",
    ),
    "a pin that nobody answers for": (
        {"kind": "check-wanted", "why": "a job", "every": "monday"},
        "expected by with check-wanted, got none",
    ),
    "a pin without a reason": (
        {"kind": "check-wanted", "by": "Ana", "every": "monday"},
        "expected why with check-wanted, got none",
    ),
    "a pin on a day that is over": (
        {"kind": "check-wanted", "by": "Ana", "why": "a job", "on": "2026-03-01"},
        "expected for on a day from 2026-03-02 to 2026-05-01, got '2026-03-01'",
    ),
    "no day": (
        {"kind": "check-wanted", "by": "Ana", "why": "a job", "on": "soon"},
        "expected a day such as 2026-03-02 for on, got 'soon'",
    ),
    "no day of the week": (
        {"kind": "check-wanted", "by": "Ana", "why": "a job", "every": "mondy"},
        "got 'mondy'; did you mean 'monday'?",
    ),
    "a skip that ends at once": (
        {"kind": "check-skipped", "by": "Ana", "why": "no work", "until": "2026-03-02"},
        "expected for until a day from 2026-03-03 to 2026-05-01, got '2026-03-02'",
    ),
    "no kind": ({}, "expected a kind of event (cause, chart-printed, check-skipped, check-wanted, climate, heads, "),
    "a kind close by": ({"kind": "hedas"}, "got 'hedas'; did you mean 'heads'?"),
    "a kind far off": ({"kind": "lunch"}, "stock-lot), got 'lunch'"),
    "no printer": ({"kind": "heads", "printer": ""}, "expected a printer (north, south), got none"),
    "an unknown printer": ({"kind": "heads", "printer": "nroth"}, "got 'nroth'; did you mean 'north'?"),
    "an unknown substrate": (
        {"kind": "stock-lot", "substrate": "gloss-300", "lot": "7"},
        "expected a substrate (matte-190, satin-240), got 'gloss-300'",
    ),
    "no substrate of a stock's event": ({"kind": "stock-lot", "lot": "7"}, "expected a substrate (matte-190, "),
    "a substrate of the whole printer's event": (
        {"kind": "heads", "substrate": "satin-240"},
        "expected no substrate with heads, which speaks of the whole printer, got 'satin-240'",
    ),
    "a mode of the whole printer's event": (
        {"kind": "ink-set", "mode": "fine"},
        "expected no print mode with ink-set, which speaks of the whole printer, got 'fine'",
    ),
    "a mode of another substrate": (
        {"kind": "profile", "substrate": "satin-240", "mode": "draft"},
        "expected a print mode of north/satin-240 (fine), got 'draft'",
    ),
    "a mode where there is none": (
        {"kind": "recalibration", "printer": "south", "mode": "fine"},
        "expected a print mode of south (there is none), got 'fine'",
    ),
    "no figure": ({"kind": "printed-area"}, "expected square_metres with printed-area, got none"),
    "a fact of another kind": (
        {"kind": "printed-area", "square_metres": "1", "lot": "7"},
        "expected a fact of printed-area (note, square_metres), got 'lot'",
    ),
    "a misspelt fact": (
        {"kind": "printed-area", "square_meters": "1"},
        "got 'square_meters'; did you mean 'square_metres'?",
    ),
    "a decimal comma": (
        {"kind": "printed-area", "square_metres": "12,5"},
        "expected a number such as 12.5 for square_metres, got '12,5'",
    ),
    "no number": ({"kind": "printed-area", "square_metres": "nan"}, "for square_metres, got 'nan'"),
    "a number in Python's own form": ({"kind": "printed-area", "square_metres": "1_000"}, "got '1_000'"),
    "less than nothing": (
        {"kind": "printed-area", "square_metres": "-1"},
        "expected square_metres from 0 to 1e+09, got '-1'",
    ),
    "more than there is": ({"kind": "printed-area", "square_metres": "1e999"}, "to 1e+09, got '1e999'"),
    "too humid": (
        {"kind": "climate", "percent_humidity": "101"},
        "expected percent_humidity from 0 to 100, got '101'",
    ),
    "no time": ({"kind": "heads", "at": "yesterday"}, "or 2026-03-02T14:30+01:00, got 'yesterday'"),
    "a time to come": (
        {"kind": "heads", "at": "2026-03-03T12:00:01"},
        "expected a time that has come, now being 2026-03-02 12:00, got '2026-03-03T12:00:01'",
    ),
    "a time before there were any": ({"kind": "heads", "at": "0001-01-01T00:00+14:00"}, "from 1970 to 9000, got "),
    "a time after all": ({"kind": "heads", "at": "9999-12-31T23:59-12:00"}, "from 1970 to 9000, got "),
    "what cannot be shown": ({"kind": "heads", "name": "\x1b[2J"}, "expected name in letters that can be shown, "),
    "half a letter": ({"kind": "heads", "note": "\ud800"}, "expected note in letters that can be shown, got "),
    "a whole book": ({"kind": "heads", "note": "x" * 1001}, "expected note in at most 1000 letters, got 1001"),
    "a fact in two spellings": (
        {"kind": "printed-area", "square_metres": "1", "Square Metres": "2"},
        "expected square_metres once, got it twice",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("texts", "why"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_taken_is_refused_with_what_was_expected_and_what_came(texts: dict[str, str], why: str) -> None:
    assert why in refusal(**texts)


def test_a_clock_elsewhere_may_be_a_day_ahead() -> None:
    assert event(kind="heads", at="2026-03-03T12:00").at == NOON + timedelta(days=1)


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("2026-07-01T14:30", datetime(2026, 7, 1, 13, 30, tzinfo=UTC)),
        ("2026-01-01 14:30", datetime(2026, 1, 1, 14, 30, tzinfo=UTC)),
        ("2026-07-01", datetime(2026, 6, 30, 23, 0, tzinfo=UTC)),
        ("2026-07-01T14:30Z", datetime(2026, 7, 1, 14, 30, tzinfo=UTC)),
        ("2026-07-01T14:30:15.5-05:00", datetime(2026, 7, 1, 19, 30, 15, 500_000, tzinfo=UTC)),
    ],
)
def test_a_time_without_a_zone_is_read_in_the_zone_of_the_site(text: str, at: datetime) -> None:
    """Lisbon is at UTC in winter, an hour ahead in summer: the IANA time zone database."""
    assert moment(text, LISBON) == at


def test_every_kind_is_of_a_stock_of_the_whole_printer_or_of_either() -> None:
    assert frozenset() == OF_STOCK & OF_PRINTER
    assert set(EventKind) - OF_STOCK - OF_PRINTER == {
        EventKind.RECALIBRATION,
        EventKind.PRINTED_AREA,
        *ANSWERED_FOR,
    }


@pytest.mark.parametrize("kind", EventKind)
def test_every_kind_can_be_told_with_all_its_facts(kind: EventKind) -> None:
    told_as: dict[type, str] = {int: "12", float: "12.5", str: "12.5", date: "2026-03-04", Weekday: "friday"}
    facts = {name: told_as[type_] for name, type_ in FACTS[kind].items()}
    if kind is EventKind.CHECK_WANTED:
        del facts["every"]  # either this or `on`
    stock = {"substrate": "satin-240"} if kind in OF_STOCK else {}
    told = event(kind=kind.value, by="Ana", **stock, **facts)
    kept_as = {name: FACTS[kind][name] if FACTS[kind][name] in (int, float) else str for name in facts}
    kept = {KEPT_AS.get(name, name): type_(facts[name]) for name, type_ in kept_as.items()}
    assert told.facts == kept
    assert REQUIRED.get(kind, frozenset()) <= FACTS[kind].keys()


@pytest.mark.parametrize("name", ["fingerprint", "print_settings_id", "Print-settings id"])
def test_print_settings_are_told_by_their_id_and_kept_under_the_name_that_files_had_before(name: str) -> None:
    told = event(kind="print-settings", substrate="satin-240", **{name: "a1"})
    assert told.facts == {"fingerprint": "a1"}


@pytest.mark.parametrize("name", [*WORDS, "square_metres", "lot"])
def test_a_column_is_known_in_any_spelling(name: str) -> None:
    assert name_of(name.upper().replace("_", " - ")) == name


def test_a_text_on_several_lines_becomes_one() -> None:
    assert one_line("note", " two\r\n  lines\t") == "two lines"
