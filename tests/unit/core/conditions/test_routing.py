"""From header, folder and file name to one printing condition."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

import pytest

from sentinel.core.conditions.name import Catalogue, Clues, ConditionName, Routed, RouteRule, route
from sentinel.core.verdict import Unscored

FOLDER = r"(?P<printer>[^/]+)/(?P<substrate>[^/]+)(/(?P<mode>[^/]+))?"
WORDS = r"(?P<printer>\w+)[ _](?P<substrate>[\w-]+)([ _](?P<mode>\w+))?"
CATALOGUE = Catalogue(
    printers={"north": "north", "printer1": "north", "south": "south"},
    substrates={"satin240": "satin-240", "matte180": "matte-180", "canvas": "canvas", "leinwand": "canvas"},
    conditions=frozenset(
        [
            ConditionName("north", "satin-240"),
            ConditionName("north", "satin-240", "fine"),
            ConditionName("south", "matte-180"),
            ConditionName("south", "canvas"),
        ]
    ),
)


def by_folder(pattern: str = FOLDER, **fixed: str) -> RouteRule:
    return RouteRule("folder", None, re.compile(pattern), fixed, None, None)


def by_name(pattern: str = WORDS, **fixed: str) -> RouteRule:
    return RouteRule("name", None, re.compile(pattern), fixed, None, None)


def by_header(keyword: str, pattern: str = WORDS, **fixed: str) -> RouteRule:
    return RouteRule("header", keyword, re.compile(pattern), fixed, "M1", "black")


def routed(*rules: RouteRule, folder: str = "", name: str = "", headers: Mapping[str, str] | None = None) -> Routed:
    return route(Clues(headers or {}, folder, name), rules, CATALOGUE)


def refusal(*rules: RouteRule, folder: str = "", name: str = "", headers: Mapping[str, str] | None = None) -> Unscored:
    with pytest.raises(Unscored) as caught:
        routed(*rules, folder=folder, name=name, headers=headers)
    return caught.value


@pytest.mark.parametrize(
    ("rule", "clues", "condition"),
    [
        (by_folder(), {"folder": "north/satin-240"}, "north/satin-240"),
        (by_folder(), {"folder": "north/satin-240/fine"}, "north/satin-240/fine"),
        (by_name(), {"name": "south_matte-180"}, "south/matte-180"),
        (by_name(), {"name": "north satin-240 fine"}, "north/satin-240/fine"),
        (by_header("DESCRIPTOR"), {"headers": {"DESCRIPTOR": "north satin-240"}}, "north/satin-240"),
        (by_header("Descriptor"), {"headers": {"DESCRIPTOR": "north satin-240"}}, "north/satin-240"),
        (by_folder("(?P<substrate>.+)", printer="north"), {"folder": "satin-240"}, "north/satin-240"),
        (by_name("(?P<printer>.+)", substrate="canvas"), {"name": "south"}, "south/canvas"),
        (by_name("", printer="south", substrate="canvas"), {"name": "anything"}, "south/canvas"),
        (
            by_folder("(?P<substrate>.+)", printer="north", mode="fine"),
            {"folder": "satin-240"},
            "north/satin-240/fine",
        ),
    ],
)
def test_each_place_names_its_condition(rule: RouteRule, clues: dict[str, str], condition: str) -> None:
    assert str(routed(rule, **clues).condition) == condition  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "spelling", ["satin-240", "Satin 240", "SATIN_240", "satin240", "ｓａｔｉｎ-240", " satin-240 ", "satin\t240"]
)
def test_case_width_spaces_hyphens_and_underscores_do_not_tell_names_apart(spelling: str) -> None:
    assert routed(by_folder(), folder=f"North/{spelling}").condition == ("north", "satin-240", None)


@pytest.mark.parametrize("folder", ["Printer 1/satin-240", "printer_1/Satin-240", "PRINTER-1/satin240"])
def test_an_alias_is_folded_like_the_name_itself(folder: str) -> None:
    assert routed(by_folder(), folder=folder).condition == ("north", "satin-240", None)


def test_a_decomposed_alias_is_the_composed_one() -> None:
    catalogue = Catalogue({"süd": "south"}, {"canvas": "canvas"}, CATALOGUE.conditions)
    found = route(Clues({}, "Su\u0308d/canvas", ""), [by_folder()], catalogue)
    assert found.condition == ("south", "canvas", None)


def test_an_optional_group_that_is_empty_leaves_the_fixed_mode() -> None:
    rule = by_folder(FOLDER, mode="fine")
    assert routed(rule, folder="north/satin-240").condition.mode == "fine"


def test_a_group_of_the_pattern_goes_before_the_fixed_name() -> None:
    rule = by_folder(FOLDER, mode="coarse")
    assert routed(rule, folder="north/satin-240/fine").condition.mode == "fine"


def test_a_rule_whose_pattern_leaves_out_the_substrate_does_not_count() -> None:
    part = by_name(r"(?P<printer>\w+)(-(?P<substrate>.+))?")
    assert routed(part, by_folder(), name="south", folder="north/satin-240").condition == ("north", "satin-240", None)


def test_several_rules_may_agree_in_other_spellings_and_the_first_is_told() -> None:
    first, second = by_header("DESCRIPTOR"), by_folder()
    found = routed(first, second, headers={"DESCRIPTOR": "printer1 Satin240"}, folder="north/satin-240")
    assert found.condition == ("north", "satin-240", None)
    assert found.rule is first


def test_rules_that_disagree_are_ambiguous_and_both_are_told() -> None:
    reason = refusal(by_name(), by_folder(), name="south_canvas", folder="north/satin-240").reason
    assert reason.code == "route-ambiguous"
    assert "north/satin-240 (by folder)" in str(reason.message)
    assert "south/canvas (by name)" in str(reason.message)


def test_rules_that_disagree_on_the_mode_alone_are_ambiguous() -> None:
    reason = refusal(by_name(), by_folder(), name="north satin-240", folder="north/satin-240/fine").reason
    assert reason.code == "route-ambiguous"


@pytest.mark.parametrize("name", ["test_chart", "run 7"])
def test_a_rule_whose_names_are_both_unknown_fitted_by_accident(name: str) -> None:
    found = routed(by_name(), by_folder(), name=name, folder="north/satin-240")
    assert (str(found.condition), found.rule.by) == ("north/satin-240", "folder")


def test_a_rule_of_which_one_name_is_known_still_counts() -> None:
    reason = refusal(by_name(), by_folder(), name="north_chart", folder="south/canvas").reason
    assert reason.code == "route-ambiguous"


@pytest.mark.parametrize(
    ("folder", "code", "said"),
    [
        ("east/satin-240", "printer-unknown", ["expected a printer of the configuration (north, south)", "'east'"]),
        ("north/vinyl", "substrate-unknown", ["(canvas, matte-180, satin-240)", "got 'vinyl'"]),
        ("north/canvas", "condition-unknown", ["expected a printing condition", "north/satin-240", "'north/canvas'"]),
        ("north/satin-240/rough", "mode-unknown", ["expected a print mode of north/satin-240", "'rough'"]),
    ],
)
def test_a_name_that_is_not_in_the_catalogue_is_refused_with_those_that_are(
    folder: str, code: str, said: list[str]
) -> None:
    reason = refusal(by_folder(), folder=folder).reason
    assert reason.code == code
    for words in said:
        assert words in str(reason.message)


def test_where_no_rule_fits_the_sentence_says_where_it_looked_and_what_was_there() -> None:
    rules = [by_header("DESCRIPTOR"), by_folder(), by_name("(?P<printer>x)(?P<substrate>y)")]
    reason = refusal(*rules, folder="loose", name="chart", headers={"DESCRIPTOR": "-"}).reason
    assert reason.code == "route-unknown"
    assert "header DESCRIPTOR '-'; folder 'loose'; name 'chart'" in str(reason.message)


def test_a_header_that_is_not_there_is_empty() -> None:
    assert "header DESCRIPTOR ''" in str(refusal(by_header("DESCRIPTOR")).reason.message)


def test_without_any_rule_the_sentence_says_so() -> None:
    reason = refusal(folder="north/satin-240").reason
    assert (reason.code, "no route at all" in str(reason.message)) == ("route-unknown", True)


def test_a_mode_that_is_missing_is_told_with_the_modes_there_are() -> None:
    known = frozenset({ConditionName("north", "satin-240", "fine"), ConditionName("north", "satin-240", "fast")})
    with pytest.raises(Unscored) as refused:
        route(Clues({}, "north/satin-240", "monday"), [by_folder()], replace(CATALOGUE, conditions=known))
    assert refused.value.reason.code == "mode-unknown"
    assert str(refused.value.reason.message) == "expected a print mode of north/satin-240 ('fast', 'fine'), got none"
