"""What the picture of a notice is drawn from, as it comes through the store into the outbox."""

from __future__ import annotations

from typing import Any

from sentinel.render.notices import Letters
from tests.support import cgats
from tests.support.cgats import FAILING, GOOD
from tests.support.room import Staff

SATIN = "north/satin-240"


def check_of(staff: Staff, shift: float) -> None:
    """A check of bytes that no other check has, measured now."""
    staff.clock.advance(days=1)
    text = cgats.text(shift, keywords={"FOR": f"{staff.clock.now()}"})
    staff.take(f"{SATIN}/sheet.txt", text)


def told_check(staff: Staff) -> dict[str, Any]:
    [waiting] = staff.outbox()
    check: dict[str, Any] = waiting.notice.facts["check"]
    return check


def test_a_failed_check_brings_its_past_with_the_oldest_first(staff: Staff) -> None:
    for shift in (GOOD, 2 * GOOD, FAILING):
        check_of(staff, shift)
    trend = told_check(staff)["trend"]
    assert [point["verdict"] for point in trend] == ["pass", "pass", "fail"]
    assert trend[0]["mean"] < trend[1]["mean"] < trend[2]["mean"]
    assert all(point["mean"] <= point["max"] for point in trend)
    assert [point["measured_at"] for point in trend] == sorted(point["measured_at"] for point in trend)


def test_the_past_is_at_most_thirty_checks_of_the_condition_alone(staff: Staff) -> None:
    staff.take("south/satin-240/other.txt", cgats.text(GOOD, keywords={"FOR": "another"}))
    for number in range(32):
        check_of(staff, GOOD + number / 100)
    check_of(staff, FAILING)
    assert len(told_check(staff)["trend"]) == 30


def test_a_failed_check_brings_the_colours_of_its_worst_patches(staff: Staff) -> None:
    check_of(staff, FAILING)
    worst = told_check(staff)["worst"]
    assert 0 < len(worst) <= 8
    assert [each["de00"] for each in worst] == sorted((each["de00"] for each in worst), reverse=True)
    for each in worst:
        assert each["read"][0] - each["aim"][0] == FAILING
        assert each["read"][1:] == each["aim"][1:]


def test_the_letter_of_a_failed_check_can_be_drawn(staff: Staff) -> None:
    check_of(staff, GOOD)
    check_of(staff, FAILING)
    [waiting] = staff.outbox()
    drawn = Letters().letter(waiting.notice).picture()
    assert drawn is not None
    assert drawn.startswith(b"\x89PNG")


def test_a_check_that_is_due_carries_nothing_to_be_drawn(staff: Staff) -> None:
    check_of(staff, GOOD)
    staff.clock.advance(days=7)
    staff.schedule.tick(staff.house)
    [waiting] = staff.outbox()
    [facts] = waiting.notice.facts["conditions"]
    assert "trend" not in facts["check"]


def test_a_stock_s_preparation_comes_with_the_facts(staff: Staff) -> None:
    stock = 'coated_side = "out"\ncore_inches = 3.0\nnotes = "keep flat"\n'
    staff.room.configure(("[substrates.satin-240]\n", f"[substrates.satin-240]\n{stock}"))
    staff.restart()
    check_of(staff, FAILING)
    [waiting] = staff.outbox()
    facts = waiting.notice.facts
    assert (facts["coated_side"], facts["core_inches"], facts["without_inks"]) == ("out", 3.0, [])
    assert "- Print on the coated side, which is wound out." in Letters().letter(waiting.notice).message().body
