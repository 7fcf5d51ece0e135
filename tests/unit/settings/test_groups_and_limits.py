"""Limits on any metric of any group, own groups, ink sets: what is taken, and what is refused at its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from sentinel.core.conditions.name import ConditionName
from sentinel.core.scoring.names import GROUP_WORDS, METRIC_WORDS
from sentinel.core.scoring.policy import InkSet, Limit, OwnGroup, ScoringOptions
from sentinel.settings.loading import load
from sentinel.settings.resolving import Snapshot
from sentinel.settings.targets_and_limits import named_set
from tests.support.toml import LEAST, faults, limits_for, settings, written

ROOM = """\
[printers.north]
inks = ["C", "M", "Y", "PK", "MK"]
[printers.south]
[substrates.satin]
without_inks = ["MK"]
[substrates.matte]
[targets.house]
file = "house.txt"
colour_path = "ink-space"
[targets.profiled]
file = "profiled.txt"
colour_path = "through-profile"
[targets.house.groups]
wood = { where = "K == 0 and M > 20 and total < 140" }
greys = { names = ["G1", "G2"] }
both = { names = ["9"], where = "C > 50" }
[conditions."north/satin"]
targets = ["house"]
[conditions."north/matte"]
[conditions."south/matte"]
targets = ["profiled"]
"""
NORTH_SATIN, NORTH_MATTE = ConditionName("north", "satin"), ConditionName("north", "matte")
SOUTH_MATTE = ConditionName("south", "matte")
LINES = len((LEAST + ROOM).splitlines())


@pytest.fixture
def snapshot(tmp_path: Path) -> Snapshot:
    return Snapshot(load(written(tmp_path, LEAST + ROOM)))


@pytest.mark.parametrize("metric", sorted(METRIC_WORDS))
@pytest.mark.parametrize("group", [*GROUP_WORDS, "solid_C", "tones_7CLR_3"])
def test_every_metric_of_every_standard_group_may_have_limits(tmp_path: Path, group: str, metric: str) -> None:
    taken = settings(tmp_path, f"[limits.house]\n{group}.{metric} = {{ warn = 1.0, act = 2.0 }}\n")
    assert named_set(taken.limits, "house")[group][metric] == Limit(1.0, 2.0)


@pytest.mark.parametrize("ink", ["O", "PK", "light-cyan", "Light Cyan"])
def test_solid_and_tones_of_any_printer_s_ink_may_have_limits(tmp_path: Path, ink: str) -> None:
    extra = f'[printers.north]\ninks = ["{ink}"]\n[limits.strip]\n"tones_{ink}".tv_max = {{ warn = 1.0, act = 2.0 }}\n'
    assert faults(tmp_path, LEAST + extra) == []


def test_a_recovery_limit_stays_with_its_limit_through_every_layer(tmp_path: Path) -> None:
    extra = """
[limits.house]
all.de00_mean = { warn = 2.0, act = 3.0, recover = 1.5 }
[conditions."south/satin"]
targets = ["house"]
limits.wood.dl_mean = { warn = 0.5, act = 1.0, recover = 0.4 }
"""
    limits = limits_for(settings(tmp_path, ROOM + extra), "house", "south/satin")
    assert limits["all"]["de00_mean"] == Limit(2.0, 3.0, 1.5)
    assert limits["wood"]["dl_mean"] == Limit(0.5, 1.0, 0.4)
    assert limits["all"]["de00_max"].recover is None


def test_a_group_of_any_target_may_have_limits(tmp_path: Path) -> None:
    assert faults(tmp_path, LEAST + ROOM + "[limits.strip]\nwood.de00_max = { warn = 1.0, act = 2.0 }\n") == []


ONE_FAULT = {
    "a metric nearly known": (
        "[limits.strip]\nall.de00_medain = { warn = 1.0, act = 2.0 }\n",
        "1:5: limits.strip.all.de00_medain: expected a metric, got 'de00_medain'; did you mean 'de00_median'?",
    ),
    "a metric like no other": (
        "[limits.strip]\nall.zzz = { warn = 1.0, act = 2.0 }\n",
        "1:5: limits.strip.all.zzz: expected a metric, got 'zzz'",
    ),
    "a metric of a single condition": (
        '[conditions."south/satin"]\nlimits.all.dl_maen = { warn = 1.0, act = 2.0 }\n',
        "1:12: conditions.\"south/satin\".limits.all.dl_maen: expected a metric, got 'dl_maen'; "
        "did you mean 'dl_mean'?",
    ),
    "a group nearly known": (
        "[limits.strip]\ngerys.de00_mean = { warn = 1.0, act = 2.0 }\n",
        "1:1: limits.strip.gerys: expected a group of patches, got 'gerys'; did you mean 'greys'?",
    ),
    "a group like no other": (
        "[limits.strip]\nzzz.de00_mean = { warn = 1.0, act = 2.0 }\n",
        "1:1: limits.strip.zzz: expected a group of patches, got 'zzz'",
    ),
    "an own group nearly known": (
        '[conditions."south/satin"]\nlimits.wod.de00_mean = { warn = 1.0, act = 2.0 }\n',
        "1:8: conditions.\"south/satin\".limits.wod: expected a group of patches, got 'wod'; did you mean 'wood'?",
    ),
    "recovery above action": (
        "[limits.strip]\nall.de00_mean = { warn = 1.0, act = 2.0, recover = 2.1 }\n",
        "1:5: limits.strip.all.de00_mean: expected recovery at or below the action limit, got 2.1 and 2.0",
    ),
    "recovery of nought": (
        "[limits.strip]\nall.de00_mean = { warn = 1.0, act = 2.0, recover = 0 }\n",
        "1:42: limits.strip.all.de00_mean.recover: expected greater than 0, got 0",
    ),
    "a negative limit on a signed metric": (
        "[limits.strip]\nall.dl_mean = { warn = -1.0, act = 2.0 }\n",
        "1:17: limits.strip.all.dl_mean.warn: expected greater than 0, got -1.0",
    ),
    "a condition that cannot be read": (
        '[targets.strip]\nfile = "s.txt"\ncolour_path = "ink-space"\ngroups.dots = { where = "C > 0 and" }\n',
        "3:17: targets.strip.groups.dots.where: expected a condition such as 'C > 0 and M == Y', got 'C > 0 and'",
    ),
    "a condition that calls": (
        '[targets.strip]\nfile = "s.txt"\ncolour_path = "ink-space"\ngroups.dots = { where = "abs(C) > 0" }\n',
        "3:17: targets.strip.groups.dots.where: expected inks, numbers and comparisons alone, got 'abs(C) > 0'",
    ),
    "a group of nothing": (
        '[targets.strip]\nfile = "s.txt"\ncolour_path = "ink-space"\ngroups.dots = {}\n',
        "3:8: targets.strip.groups.dots: expected names, where, or both, got neither",
    ),
    "a misspelt key of a group": (
        '[targets.strip]\nfile = "s.txt"\ncolour_path = "ink-space"\n'
        'groups.dots = { whree = "C > 0", names = ["1"] }\n',
        "3:17: targets.strip.groups.dots.whree: unknown key; did you mean 'where'?",
    ),
    "a left-out ink no printer has": (
        '[substrates.gloss]\nwithout_inks = ["MB"]\n',
        "1:1: substrates.gloss.without_inks: expected a printer's ink of this file "
        "('C', 'M', 'MK', 'PK', 'Y'), got 'MB'",
    ),
    "a light ink behind an ink the printer has not": (
        '[printers.west]\ninks = ["C", "M"]\nlight_inks = ["C", "K"]\n',
        "0:11: printers.west: expected light_inks to name inks of the printer (C, M), got K",
    ),
    "a counted difference of nought": (
        "[measurements]\nshare_beyond = 0.0\n",
        "1:1: measurements.share_beyond: expected greater than 0, got 0.0",
    ),
}


@pytest.mark.parametrize(("extra", "fault"), ONE_FAULT.values(), ids=ONE_FAULT)
def test_a_fault_is_told_with_its_line_and_what_was_meant(tmp_path: Path, extra: str, fault: str) -> None:
    line, _, rest = fault.partition(":")
    assert faults(tmp_path, LEAST + ROOM + extra) == [f":{LINES + 1 + int(line)}:{rest}"]


def test_faults_of_groups_and_of_sets_are_told_at_once(tmp_path: Path) -> None:
    extra = "[limits.a]\ngerys.de00_mean = { warn = 1.0, act = 2.0 }\nsolds.de00_mean = { warn = 1.0, act = 2.0 }\n"
    assert [line.split(":")[1] for line in faults(tmp_path, LEAST + ROOM + extra)] == [str(LINES + 2), str(LINES + 3)]


def test_a_group_may_not_be_called_all_which_is_every_patch(tmp_path: Path) -> None:
    extra = '[targets.strip]\nfile = "s.txt"\ncolour_path = "ink-space"\ngroups.all = { names = ["1"] }\n'
    [told] = faults(tmp_path, LEAST + extra)
    assert told.startswith(":10:8: targets.strip.groups.all")
    assert "every patch" in told


@pytest.mark.parametrize(
    ("said", "inks"), [("", None), ("light_inks = []\n", ()), ('light_inks = ["C", "PK"]\n', ("C", "PK"))]
)
def test_a_printer_says_which_inks_its_driver_splits_or_that_it_splits_none(
    tmp_path: Path, said: str, inks: tuple[str, ...] | None
) -> None:
    text = LEAST + ROOM.replace("[printers.south]\n", said + "[printers.south]\n")
    conditions = Snapshot(load(written(tmp_path, text))).conditions
    assert conditions[NORTH_SATIN].light_inks == inks
    assert conditions[SOUTH_MATTE].light_inks is None


def test_a_printer_cannot_have_the_same_ink_twice(tmp_path: Path) -> None:
    """Two channels of one name would be told apart nowhere: `C > 0`, `solid_C` and limits name an ink."""
    [told] = faults(tmp_path, LEAST + '[printers.north]\ninks = ["C", "M", "C"]\n')
    assert told.startswith(":8:1: printers.north.inks: expected")


def test_figures_are_made_as_target_printer_and_settings_say(snapshot: Snapshot) -> None:
    assert snapshot.conditions[NORTH_SATIN].scoring.targets["house"].reckoning == ScoringOptions(
        ink_names=("C", "M", "Y", "PK", "MK"),
        own_groups={
            "wood": OwnGroup(where="K == 0 and M > 20 and total < 140"),
            "greys": OwnGroup(names=("G1", "G2")),
            "both": OwnGroup(("9",), "C > 50"),
        },
        share_beyond=3.0,
        ink_space=True,
    )
    assert snapshot.conditions[SOUTH_MATTE].scoring.targets["profiled"].reckoning == ScoringOptions(ink_space=False)


def test_the_counted_difference_is_a_setting(tmp_path: Path) -> None:
    changed = Snapshot(load(written(tmp_path, LEAST + ROOM + "[measurements]\nshare_beyond = 1.5\n")))
    assert changed.conditions[NORTH_SATIN].scoring.targets["house"].reckoning.share_beyond == 1.5


def test_a_stock_s_ink_set_is_the_printer_s_but_what_it_leaves_out(snapshot: Snapshot) -> None:
    inks = ("C", "M", "Y", "PK", "MK")
    assert snapshot.conditions[NORTH_SATIN].scoring.inks == InkSet(inks, frozenset({"MK"}))
    assert snapshot.conditions[NORTH_MATTE].scoring.inks == InkSet(inks, frozenset())
    assert snapshot.conditions[SOUTH_MATTE].scoring.inks == InkSet()


def test_the_groups_a_target_requires_come_to_its_policy_and_nothing_where_none_are_named(tmp_path: Path) -> None:
    named = ROOM.replace('file = "house.txt"', 'file = "house.txt"\nrequired = ["paper", "solid_C", "wood"]')
    conditions = Snapshot(load(written(tmp_path, LEAST + named))).conditions
    assert conditions[NORTH_SATIN].scoring.targets["house"].source.required == ("paper", "solid_C", "wood")
    assert conditions[SOUTH_MATTE].scoring.targets["profiled"].source.required is None


@pytest.mark.parametrize(
    ("required", "fault"),
    [
        ("papers", "expected a group of patches, got 'papers'; did you mean 'paper'?"),
        ("wood", "expected a group of patches, got 'wood'"),
    ],
)
def test_a_required_group_must_be_standard_or_the_target_s_own(tmp_path: Path, required: str, fault: str) -> None:
    """`wood` is one of the target house, not of this one."""
    named = ROOM.replace('file = "profiled.txt"', f'file = "profiled.txt"\nrequired = ["{required}"]')
    [found] = faults(tmp_path, LEAST + named)
    assert "targets.profiled.required" in found
    assert fault in found
