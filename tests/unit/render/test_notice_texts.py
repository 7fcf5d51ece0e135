"""What people read: what happened, how sure that is, what to do next, in that order."""

from __future__ import annotations

import re
from typing import Any

import pytest

from sentinel.core.cases.kinds import NoticeKind
from sentinel.render.notices import RenderedNotice, delivery_test
from tests.unit.render.facts import (
    BEYOND,
    KEY,
    OLD,
    REMARK,
    RIVAL,
    check,
    condition,
    due,
    failed,
    recovered,
    told,
    unscored,
)

EVERY_KIND = [failed(), failed(3), recovered(), due(condition(reasons=[OLD], check=check())), unscored()]
KINDS = ["first failure", "failed again", "recovered", "due", "unscored"]
ON_PRINTER = [failed(), failed(3), due(condition(reasons=[OLD], check=check()))]


def places(text: str, *parts: str) -> list[int]:
    """Where each part stands; all of them must be there."""
    for part in parts:
        assert part in text, f"{part!r} is missing in:\n{text}"
    return [text.index(part) for part in parts]


@pytest.mark.parametrize("found", EVERY_KIND, ids=KINDS)
def test_the_last_line_is_the_key_by_which_a_repeat_is_told(found: RenderedNotice) -> None:
    assert found.body.splitlines()[-1] == f"Notice {KEY}"
    assert found.body.count(KEY) == 1


@pytest.mark.parametrize("found", EVERY_KIND, ids=KINDS)
def test_no_text_holds_a_gap_a_placeholder_or_a_code(found: RenderedNotice) -> None:
    text = f"{found.title}\n{found.body}"
    assert not re.search(r"None|[{}]|\.\.|  |:\n\n|action-limit|not-readable|too-old", text)


def test_a_first_failure_says_what_figures_how_sure_and_then_what_to_do() -> None:
    found = failed(1, BEYOND, REMARK)
    assert found.title == "Please confirm - check failed: North / Satin 240 (fine)"
    order = places(
        found.body,
        "Who acts: the operator at North",
        "Production: may go on; hold work that must match until this is confirmed.",
        "North / Satin 240 (fine): a sheet was out of tolerance. Please confirm it",
        "How sure: one reading of one sheet.",
        "Out of tolerance:\n- maximum ΔE00 of solids: expected at most the action limit 5.00, got 7.25",
        "Figures:\n- all patches: mean 1.23 ΔE00, 95th percentile 6.79 ΔE00, maximum 7.25 ΔE00\n"
        "- solids: mean 4.10 ΔE00",
        "To be noted:\n- expected a measurement condition M0 to M3",
        "Measured 2026-07-06 09:30 WEST, 70 patches, M1, aim satin-full, file monday.txt.",
        "What to do, in this order:\n1. ",
        "Do not recalibrate and do not replace anything on this one reading.",
        "Take care:",
        "It is no certificate of conformity.",
    )
    assert order == sorted(order)


def test_the_steps_that_confirm_a_failure_go_from_cheap_to_dear() -> None:
    """Common practice, no published source."""
    order = places(
        failed().body,
        "1. Look which stock was printed",
        "2. Make sure that the chart was dry when it was read (2 hours after printing)",
        "3. Read the same sheet again",
        "4. Print a nozzle check",
        "5. Print the chart again",
    )
    assert order == sorted(order)


def test_drying_without_a_known_time_is_still_asked_for() -> None:
    assert "2. Make sure that the chart was dry when it was read: wet" in failed(drying_hours=None).body


def test_a_stock_that_is_dry_at_once_asks_nobody_to_wait() -> None:
    assert "2. Make sure that the chart was dry when it was read: wet" in failed(drying_hours=0.0).body
    body = due(condition(drying_hours=0.0)).body
    assert "The chart is dry as soon as it is printed." in body
    assert "0 hours" not in body


REMEDIES = r"[^.\n]*(?:recalibrat|reprofil|new profile|replace|service engineer)[^.\n]*"


def remedies(found: RenderedNotice) -> list[str]:
    """Every sentence that names a remedy, but for those that forbid it."""
    named = re.findall(REMEDIES, f"{found.title}\n{found.body}", flags=re.IGNORECASE)
    return [sentence for sentence in named if not sentence.strip().startswith("Do not ")]


def test_a_first_failure_names_no_remedy() -> None:
    assert remedies(failed()) == []


@pytest.mark.parametrize("count", [1, 2, 5])
def test_where_another_stock_fits_better_no_remedy_is_named(count: int) -> None:
    found = failed(count, BEYOND, RIVAL)
    assert "How sure: the figures speak for another stock - the target gloss-260 fits better" in found.body
    assert remedies(found) == []


def test_a_repeated_failure_names_the_remedy_behind_every_step_and_leaves_it_to_the_colour_lead() -> None:
    found = failed(3)
    assert found.title == "Check failed again: North / Satin 240 (fine)"
    assert "the check failed again, 3 checks in a row by now." in found.body
    [remedy] = remedies(found)
    assert remedy.startswith("Only when stock, drying, reading and nozzles are all excluded, the colour lead decides")
    order = places(found.body, "5. Print the chart again", remedy, "After that a check must pass.", "Take care:")
    assert order == sorted(order)


@pytest.mark.parametrize(
    ("technology", "caution"),
    [
        ("aqueous-dye", "Keep hands, hair and sleeves away from the carriage"),
        ("aqueous-pigment", "Keep hands, hair and sleeves away from the carriage"),
        ("solvent", "no flame or spark"),
        ("latex", "Heaters and freshly printed stock are hot"),
        ("uv", "Never look into the UV lamps"),
    ],
)
def test_whoever_is_sent_to_a_printer_is_warned_for_its_ink_technology(technology: str, caution: str) -> None:
    for found in (failed(technology=technology), due(condition(technology=technology, reasons=[OLD]))):
        care = found.body.split("Take care:\n")[1].split("\n\n")[0].splitlines()
        assert caution in "\n".join(care)
        assert care[-1].startswith("- The printer maker's manual and local rules come first")
        assert care[-1].endswith("for licensed people.")


@pytest.mark.parametrize("technology", ["aqueous-dye", "aqueous-pigment"])
def test_a_caution_of_another_technology_is_not_given(technology: str) -> None:
    for word in ("solvent", "Heaters", "UV"):
        assert word not in failed(technology=technology).body


def test_a_remark_alone_makes_no_list_of_limits() -> None:
    assert "Out of tolerance" not in recovered().body


@pytest.mark.parametrize(
    ("urgency", "title"),
    [
        ("confirm", "Please confirm - check failed: North / Satin 240 (fine)"),
        ("alarm", "Check failed: North / Satin 240 (fine)"),
        ("urgent", "URGENT - Check failed: North / Satin 240 (fine)"),
    ],
)
def test_the_title_says_how_urgent_it_is_and_only_an_urgent_one_holds_prints(urgency: str, title: str) -> None:
    found = failed(urgency=urgency)
    assert found.title == title
    assert ("Production: hold prints on this stock until somebody has looked." in found.body) == (urgency == "urgent")


@pytest.mark.parametrize(("count", "failures"), [(1, "1 failed check"), (4, "4 failed checks")])
def test_recovered_speaks_of_the_last_sheet_and_is_no_certificate(count: int, failures: str) -> None:
    found = recovered(count)
    assert found.title == "Back within tolerance: North / Satin 240 (fine)"
    assert f"after {failures} the last sheet was within tolerance." in found.body
    assert "A verdict speaks of that sheet alone. It is no certificate of conformity." in found.body
    assert "What to do" not in found.body


def test_a_check_that_is_due_says_why_since_when_and_how_to_make_one() -> None:
    found = due(condition(reasons=[OLD], check=check(), notes="coated side out"))
    assert found.title == "Colour check due: North / Satin 240 (fine)"
    order = places(
        found.body,
        "North / Satin 240 (fine): the last check is of 2026-07-06, a colour check is due after 7 days.",
        "Last measured 2026-07-06 09:30 WEST.",
        "1. Load the stock and tell the printer what it is.",
        "2. Print the chart of its aim.",
        "3. Let the chart dry for 2 hours before it is measured",
        "4. Measure it and save the file in the drop folder.",
        "For printing the chart:\n- coated side out.",
        "Take care:",
    )
    assert order == sorted(order)


def test_checks_due_at_one_moment_are_one_notice_with_each_caution_once() -> None:
    solvent = condition(printer="South", mode=None, technology="solvent", reasons=[OLD])
    latex = condition(printer="West", mode=None, technology="latex", reasons=[OLD])
    found = due(solvent, latex, condition(reasons=[OLD]))
    assert found.title == "3 colour checks due: South / Satin 240 and others"
    places(found.body, "- South / Satin 240, West / Satin 240, North / Satin 240 (fine): ")
    care = found.body.split("Take care:\n")[1].split("\n\n")[0].splitlines()
    assert len(care) == len(set(care))
    assert care[-1].startswith("- The printer maker's manual and local rules come first")


def test_neighbours_of_which_the_same_is_told_share_a_line() -> None:
    one, two, three = (condition(printer=each, mode=None) for each in ("South", "West", "North"))
    found = due({**one, "reasons": [OLD]}, {**two, "reasons": []}, {**three, "reasons": [OLD]})
    lines = [line for line in found.body.splitlines() if " / Satin 240" in line and line.startswith("- ")]
    assert [line.split(":")[0] for line in lines] == [
        "- South / Satin 240",
        "- West / Satin 240",
        "- North / Satin 240",
    ]


def test_a_file_that_was_not_scored_says_why_what_to_do_and_where_it_is() -> None:
    found = unscored()
    assert found.title == "File not scored: monday.txt"
    order = places(
        found.body,
        "monday.txt came in folder north/satin-240 at 2026-01-06 08:30 WET and was not scored.",
        "Why:\n- line 7: expected 8 cells, got 3",
        "What to do:\n- Export the measurement again as CGATS text",
        "nothing was lost",
        "It goes into the put-aside folder as monday-2.txt, with its reason beside it; where that folder does not take "
        "it, it stays where it came, and that is told apart. No state was changed by it.",
    )
    assert order == sorted(order)


def test_a_file_from_the_top_of_the_drop_folder_is_said_to_be() -> None:
    assert "came at the top of the drop folder at" in unscored(folder="").body


def test_a_file_that_was_left_where_it_lay_is_said_to_be() -> None:
    body = unscored(set_aside_as=None).body
    assert "It stays in the drop folder, and a copy is in the archive." in body
    assert "put-aside" not in body


@pytest.mark.parametrize(
    ("zone", "shown"),
    [
        ("UTC", "2026-07-06 08:30 UTC"),
        ("Europe/Lisbon", "2026-07-06 09:30 WEST"),
        ("America/Phoenix", "2026-07-06 01:30 MST"),
    ],
)
def test_times_are_shown_in_the_zone_of_the_site(zone: str, shown: str) -> None:
    assert f"Measured {shown}," in failed(timezone=zone).body


def test_an_unknown_m_condition_is_said_to_be_unknown() -> None:
    facts = condition(count=1, urgency="confirm", check=check(BEYOND, m_condition=None))
    assert "70 patches, M condition unknown, aim satin-full" in told(NoticeKind.CHECK_FAILED, facts).body


def test_whoever_prints_a_chart_is_told_side_core_drying_and_the_inks_it_leaves_out() -> None:
    """Common practice, no published source."""
    stock: dict[str, Any] = {"coated_side": "out", "core_inches": 3.0, "without_inks": ["MK"], "notes": "keep it flat."}
    lines = [
        "- Print on the coated side, which is wound out.",
        "- Core: 3 inches (76 mm); fit the adapter where the spindle takes another size.",
        "- Its chart leaves out: MK.",
        "- keep it flat.\n",
    ]
    for found in (failed(**stock), failed(3, **stock), due(condition(reasons=[OLD], **stock))):
        order = places(found.body, "For printing the chart:", *lines, "Take care:")
        assert order == sorted(order)
    assert "- Let the chart dry for 2 hours before it is measured" in failed(**stock).body


def test_a_stock_of_which_nothing_is_known_makes_no_empty_line() -> None:
    assert "For printing the chart" not in due(condition(reasons=[OLD])).body


def test_of_checks_with_one_drying_time_it_is_told_once_and_of_others_beside_each() -> None:
    """Common practice, no published source: drying goes by stock and ink."""
    satin, matte = condition(reasons=[OLD]), condition(substrate="Matte 190", reasons=[OLD], drying_hours=1.0)
    assert due(satin, satin).body.count("2 hours") == 1
    told = due(satin, matte).body
    assert "dry for 2 hours" in told
    assert "dry for 1 hour before" in told


@pytest.mark.parametrize("found", ON_PRINTER, ids=["first failure", "failed again", "due"])
def test_whoever_is_sent_to_a_printer_is_told_that_the_maker_s_manual_comes_first(found: RenderedNotice) -> None:
    assert "The printer maker's manual and local rules come first" in found.body


def test_the_trial_message_asks_for_nothing() -> None:
    found = delivery_test("hall").message()
    assert found.title == "Test from the sentinel of hall"
    assert "Nothing is wrong and nothing is to be done." in found.body
