"""What `check` prints, from assessments alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sentinel.cli.check import check_json, check_text
from sentinel.core.assessment import Assessment
from sentinel.core.conditions.name import ConditionName
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.findings import Evidence, Finding
from sentinel.core.measurement import MeasurementCondition
from sentinel.core.message import msg
from sentinel.core.scoring.policy import ScoringOptions, ScoringRules
from sentinel.core.scoring.score import Aim, Target, score, unscored
from sentinel.core.verdict import Code, Reason
from sentinel.render.remedies import next_step, telling_apart
from sentinel.settings.targets_and_limits import HOUSE_LIMITS
from tests.unit.core.builders import black_steps, measurement

M2 = MeasurementCondition(m="M2")
REFUSED = Assessment(unscored(Reason(Code.TOO_LARGE, msg("expected a file of at most 64 MB, got 200 MB"))))


@pytest.fixture
def judged() -> Assessment:
    device, lab = black_steps(12)
    sample = measurement(device=device, lab=lab + 1.0)
    target = Target("satin", "0" * 64, measurement(device=device, lab=lab), M2, "ink-space")
    found = score(sample, M2, [Aim(target, HOUSE_LIMITS, 0.9)], ScoringRules(True, 6, 0.9, 0.5))
    return Assessment(found, sample, ConditionName("north", "satin-240"), M2)


def test_json_of_a_file_that_was_not_read_has_every_key_and_null_figures() -> None:
    shown = check_json("./a.txt", None, REFUSED)
    assert (shown["file"], shown["sha256"], shown["table"], shown["condition"]) == ("./a.txt", None, None, None)
    assert shown["metrics"] == {
        "all": {"de00_mean": None, "de00_p95": None, "de00_max": None},
        "paper": {"de00_mean": None},
    }
    assert shown["measurement"]["patches"] == shown["measurement"]["matched"] == 0


def test_json_of_a_judged_file_holds_its_figures(judged: Assessment) -> None:
    shown = check_json("a.txt", "abc", judged)
    assert shown["metrics"]["all"] == dict(judged.score.metrics["all"])
    assert (shown["condition"], shown["table"], shown["verdict"]) == ("north/satin-240", 1, judged.score.verdict.value)
    assert shown["measurement"]["m_condition"] == "M2"
    assert (shown["measurement"]["patches"], shown["measurement"]["matched"]) == (12, 12)


def test_the_text_of_a_verdict_says_that_it_is_no_certificate(judged: Assessment) -> None:
    lines = check_text("a.txt", judged).splitlines()
    assert lines[0] == f"a.txt, table 1 (north/satin-240): {judged.score.verdict.value}"
    assert lines[1].strip().startswith("all patches: mean ")
    assert "no certificate of conformity" in lines[-1]


def test_the_text_says_of_every_cause_who_acts_and_what_comes_next_and_what_tells_two_apart(judged: Assessment) -> None:
    found = tuple(
        Finding(cause, None, -1, share, Evidence(msg("all patches darker")), False, {}, answers=share > 0.1)
        for cause, share in ((Cause.SCALE, 0.6), (Cause.SHADE, 0.35), (Cause.UNEXPLAINED, 0.05))
    )
    lines = check_text("a.txt", replace(judged, diagnosis=found)).splitlines()
    start = lines.index("  one of these may be wrong, or several:")
    assert lines[start + 1 : start + 6] == [
        "  - measurement-scale, 60%: all patches darker",
        f"    instrument's keeper acts. Next: {next_step('measurement-scale', None)}",
        "  - substrate-shade, 35%: all patches darker",
        f"    colour lead acts. Next: {next_step('substrate-shade', None)}",
        f"  what tells them apart: {telling_apart([each.as_json() for each in found])[0]}",
    ]


def test_the_text_of_an_unscored_file_says_why_and_certifies_nothing() -> None:
    assert check_text("a.txt", REFUSED).splitlines() == [
        "a.txt: unscored",
        "  - expected a file of at most 64 MB, got 200 MB (too-large)",
    ]


def test_json_says_of_every_group_how_many_patches_were_read(judged: Assessment) -> None:
    shown = check_json("a.txt", "abc", judged)
    assert shown["patches"]["all"] == {"read": 12, "target": 12}
    assert shown["patches"]["paper"] == {"read": 1, "target": 1}
    assert shown["patches"].keys() == shown["metrics"].keys()
    assert check_json("a.txt", None, REFUSED)["patches"] == {}


def test_the_text_says_how_many_patches_stand_behind_the_main_groups(judged: Assessment) -> None:
    assert (
        "  patches read of the aim's: all patches 12 of 12, bare stock 1 of 1"
        in check_text("a.txt", judged).splitlines()
    )


def test_what_the_settings_declare_is_named_for_file_and_target_and_what_they_say_themselves_is_not() -> None:
    """The target says M1 itself; its backing, and both of the file, are declared."""
    device, lab = black_steps(12)
    aim = measurement(device=device, lab=lab, condition=MeasurementCondition(m="M1"))
    sample = measurement(device=device, lab=lab)
    under = MeasurementCondition(m="M1", backing="white")
    target = Target("satin", "0" * 64, aim, under, "ink-space")
    found = score(sample, under, [Aim(target, HOUSE_LIMITS, 0.9)], ScoringRules(True, 6, 0.9, 0.5))
    shown = check_json("a.txt", "abc", Assessment(found, sample, None, under))["interpretation"]
    assert [(each["kind"], each["name"], each["value"]) for each in shown["declared"]] == [
        ("setting", "m_condition", "M1"),
        ("setting", "backing", "white"),
    ]
    assert (shown["target"]["m_condition"], shown["target"]["backing"]) == ("M1", "white")
    assert [(each["name"], each["value"]) for each in shown["target"]["declared"]] == [("backing", "white")]


def test_inks_that_the_settings_name_are_declared() -> None:
    device, lab = black_steps(12)
    numbered = measurement(device=device, lab=lab, inks=[f"4CLR_{number}" for number in range(1, 5)])
    named = measurement(device=device, lab=lab)
    names = ScoringOptions(ink_names=("C", "M", "Y", "PK"))
    declared = []
    for sample in (numbered, named):
        target = Target("satin", "0" * 64, sample, M2, "ink-space")
        found = score(sample, M2, [Aim(target, HOUSE_LIMITS, 0.9, names)], ScoringRules(True, 6, 0.9, 0.5))
        shown = check_json("a.txt", "abc", Assessment(found, sample, None, sample.condition))["interpretation"]
        declared.append([(each["kind"], each["name"], each["value"]) for each in shown["declared"]])
    assert declared == [[("setting", "inks", "C M Y PK")], []]
