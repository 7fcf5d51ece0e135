"""Densities from a dropped file to what is told of it: limits, record, rescoring, charts and forecasts, rejudging."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from tests.support import cgats
from tests.support.command import sentinel
from tests.support.room import Room
from tests.unit.core.recalibration.prints import Print, exported, usual

NOW = datetime.now(UTC)
CHECKS = 10
LIMITS = """
[targets.scales]
file = "targets/scales.txt"
colour_path = "ink-space"
[limits.house]
solid_C.density_mean = { warn = 0.05, act = 0.25 }
all.cmc_mean = { warn = 8.0, act = 9.0 }
"""


def fading(number: int) -> str:
    """Cyan loses two hundredths of its strength from each check to the next."""
    made = usual()
    return exported(Print(made.gain, made.strength * np.array([1 - 0.02 * number, 1, 1, 1])), 10 + number)


@pytest.fixture(scope="module")
def faded(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """A room with a check every other day of a cyan that fades, and one without spectra on another condition."""
    room = Room(tmp_path_factory.mktemp("faded") / "room")
    (room.folder / "targets" / "scales.txt").write_text(exported(usual(), 1))
    room.configure(
        ('[conditions."north/satin-240"]\ntargets = ["house"]', '[conditions."north/satin-240"]\ntargets = ["scales"]'),
        extra=LIMITS,
    )
    for number in range(CHECKS):
        room.put(f"north/satin-240/{number}.txt", fading(number), at=NOW - timedelta(days=2 * (CHECKS - number)))
    room.put("north/matte-190/lab.txt", cgats.text(cgats.GOOD), at=NOW - timedelta(days=1))
    done = sentinel("--config", room.config, "run", "--once")
    assert done.code == 0, done.err
    return room


def listed(room: Room, condition: str) -> list[dict[str, Any]]:
    return sentinel("--config", room.config, "checks", "--condition", condition, "--json").lines()


def test_the_record_holds_densities_and_the_formula_that_a_limit_names(faded: Room) -> None:
    by_file = {each["file"]: each["metrics"] for each in listed(faded, "north/satin-240")}
    cyan = [by_file[f"{number}.txt"]["solid_C"]["density_mean"] for number in range(CHECKS)]
    assert cyan[0] == pytest.approx(0, abs=0.02)
    assert -0.35 < cyan[-1] < -0.15
    assert all("cmc_mean" in metrics["all"] and "de94_mean" not in metrics["all"] for metrics in by_file.values())


def said(room: Room, text: str, condition: str) -> list[str]:
    """The reasons of a check under the room's settings."""
    (room.folder / "now.txt").write_text(text)
    done = sentinel("--config", room.config, "check", "--json", room.folder / "now.txt", "--condition", condition)
    return [reason["message"] for reason in done.json()["reasons"]]


def test_a_limit_on_a_density_bites_and_says_so(faded: Room) -> None:
    beyond = "mean error of density of solid C: expected at most the warning limit 0.05"
    assert any(message.startswith(beyond) for message in said(faded, fading(5), "north/satin-240"))
    assert not any("density" in message for message in said(faded, fading(0), "north/satin-240"))


def test_without_spectra_a_limit_on_a_density_is_named_as_not_checked(faded: Room) -> None:
    messages = said(faded, cgats.text(cgats.GOOD), "north/matte-190")
    assert "mean error of density of solid C: not to be had from this file, its limit was not checked" in messages


def test_scored_again_a_density_is_the_same_to_the_last_bit(faded: Room) -> None:
    check = listed(faded, "north/satin-240")[0]["check"]
    shown = sentinel("--config", faded.config, "rescore", "--check", str(check), "--json").json()
    assert (shown["identical"], shown["differing"]) == (True, {})


def test_explain_foretells_when_the_density_reaches_its_limit(faded: Room) -> None:
    done = sentinel("--config", faded.config, "explain", "north/satin-240")
    assert done.code == 0, done.err
    assert "mean error of density of solid C moves by -0.01" in done.out
    expected = r"mean error of density.*; a reading of -0\.\d+ D to -0\.\d+ D is expected on \S+, with 90 % confidence"
    assert re.search(expected, done.out)


def test_what_was_made_in_another_status_or_not_at_all_is_unknown_to_rejudge(faded: Room) -> None:
    trial = faded.folder / "trial.toml"
    text = faded.config.read_text().replace("cmc_mean", "de94_mean")
    trial.write_text(f'{text}\n[measurements]\ndensity_status = "T"\n')
    shown = sentinel("--config", faded.config, "rejudge", "--new", trial, "--json").json()
    assert {(each["group"], each["metric"]): each["checks"] for each in shown["unknown"]} == {
        ("all", "de94_mean"): CHECKS + 1,
        ("solid_C", "density_mean"): CHECKS,
    }
