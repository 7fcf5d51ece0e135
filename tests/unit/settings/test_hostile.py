"""No settings file costs more than its length: counted steps and memory, over three doublings of every shape."""

from __future__ import annotations

import math
import sys
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from sentinel.settings import loading
from sentinel.settings.loading import MOST_TOLD, SettingsError, load
from tests.support.amount import amount
from tests.support.toml import LEAST, faults, written

SMALLEST = amount(600, 1_500)
"""Bytes; each shape grows to eight times of it."""
STEEPEST = 1.1
OURS = str(Path(loading.__file__).parent)


def many(line: Callable[[int], str], size: int) -> str:
    """So many bytes of lines that are told apart by a number."""
    length = len(line(10_000))
    return "".join(line(number) for number in range(10_000, 10_000 + size // length))


def array(line: Callable[[int], str], size: int) -> str:
    return LEAST.replace('["drop"]', f"[{many(line, size)}]")


Shape = Callable[[int], str]
TARGET = '[targets.t]\nfile = "t"\ncolour_path = "ink-space"\n'
SHAPES: dict[str, Shape] = {
    "arrays in arrays": lambda n: "x = " + "[" * (n // 2) + "]" * (n // 2),
    "tables in tables": lambda n: "x = " + "{a=" * (n // 3),
    "unknown keys": lambda n: LEAST + "[site]\n" + many(lambda i: f"k{i} = 1\n", n),
    "unknown keys at the top": lambda n: many(lambda i: f"k{i} = 1\n", n) + LEAST,
    "unknown tables": lambda n: LEAST + many(lambda i: f"[t{i}]\n", n),
    "arrays of tables": lambda n: LEAST + "[[a]]\n[[a.b]]\n" * (n // 14),
    "faulty printers": lambda n: LEAST + many(lambda i: f"[printers.p{i}]\nlable = 1\n", n),
    "printers of one spelling": lambda n: LEAST + many(lambda i: f'[printers.p{i}]\naliases = ["same"]\n', n),
    "conditions of nobody": lambda n: LEAST + many(lambda i: f'[printers.p{i}]\n[conditions."q{i}/s"]\n', n),
    "faulty routes": lambda n: LEAST + '[[routes]]\nby = "nme"\n' * (n // 24),
    "faulty rules": lambda n: LEAST + many(lambda i: f'[[tell]]\nprinters = ["p{i}"]\n', n),
    "rules of nobody": lambda n: LEAST + many(
        lambda i: f'[[tell]]\nrecipients = ["x{i}"]\n[recipients.r{i}]\nurl_env = "A"\n', n
    ),
    "a key of many parts": lambda n: "a" + ".a" * (n // 2) + " = 1\n",
    "a table of many parts": lambda n: "[" + "a." * (n // 2) + "a]\n",
    "keys of some parts": lambda n: many(lambda i: f"k{i}{'.a' * 30} = 1\n", n),
    "a text left open": lambda n: 'x = "' + "y" * n,
    "a text of lines left open": lambda n: 'x = """' + "y\n" * (n // 2),
    "a text of quotes": lambda n: LEAST + '[site]\nname = """' + '""a' * (n // 3) + '"""\n',
    "comments": lambda n: "# c\n" * (n // 4) + LEAST + "[sit]\n",
    "NUL": lambda n: "\0" * n,
    "NUL in a text": lambda n: 'x = "' + "\0" * n + '"',
    "digits": lambda n: "x = " + "1" * n,
    "digits of sixteen": lambda n: LEAST + "[due]\nmax_age_days = 0x" + "1" * n,
    "a long key": lambda n: LEAST + "[site]\n" + "k" * n + " = 1\n",
    "a long value": lambda n: LEAST + '[site]\ntimezone = "' + "z" * n + '"\n',
    "numbers for folders": lambda n: array(lambda _: "1,", n),
    "folders": lambda n: array(lambda i: f'"d{i}",', n),
    "one folder often": lambda n: array(lambda _: '"d",', n),
    "a deep folder": lambda n: LEAST.replace('"drop"', f'"{"d/" * (n // 2)}"'),
    "limits on limits": lambda n: LEAST + many(lambda i: f'[limits.s{i}]\nbased_on = "s{i + 1}"\n', n),
    "groups of nobody": lambda n: LEAST + "[limits.a]\n" + many(
        lambda i: f"g{i}.de00_mean = {{ warn = 1.0, act = 2.0 }}\n", n
    ),
    "groups": lambda n: LEAST + TARGET + many(lambda i: f'groups.g{i} = {{ names = ["A"] }}\n', n) + "x = 1\n",
    "a pattern": lambda n: LEAST + '[[routes]]\nby = "name"\npattern = "' + "(a|" * (n // 3) + '"\n',
    "targets among dropped files": lambda n: LEAST + many(
        lambda i: f'[targets.t{i}]\nfile = "drop/t"\ncolour_path = "ink-space"\n', n
    ),
}  # fmt: skip


def steps(work: Callable[[], object]) -> int:
    """Lines of ours that run, and functions that others enter."""
    count = 0

    def line(frame: FrameType, _event: str, _value: Any) -> Any:
        nonlocal count
        count += 1
        return line if frame.f_code.co_filename.startswith(OURS) else None

    before = sys.gettrace()
    sys.settrace(line)
    try:
        work()
    finally:
        sys.settrace(before)
    return count


def peak(work: Callable[[], object]) -> int:
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def exponent(figures: list[int], floor: int) -> float:
    """By which power of the size they grow, over three doublings; small figures are all alike."""
    first, *_, last = (max(figure, floor) for figure in figures)
    return math.log2(last / first) / (len(figures) - 1)


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_no_shape_costs_more_than_its_length(tmp_path: Path, shape: Shape) -> None:
    def tried() -> None:
        try:
            load(tmp_path / "sentinel.toml")
        except SettingsError as refusal:
            assert len(str(refusal).splitlines()) <= MOST_TOLD + 1  # noqa: PT017

    lines, memory = [], []
    written(tmp_path, shape(SMALLEST))
    tried()  # what is made once is made by now
    for doubled in range(4):
        written(tmp_path, shape(SMALLEST << doubled))
        lines.append(steps(tried))
        memory.append(peak(tried))
    assert exponent(lines, 2_000) <= STEEPEST, lines
    assert exponent(memory, 200_000) <= STEEPEST, memory


def test_of_many_faults_the_first_are_told_and_how_many_more(tmp_path: Path) -> None:
    told = faults(tmp_path, LEAST + "[site]\n" + "".join(f"k{number} = 1\n" for number in range(502)))
    assert told[0] == ":8:1: site.k0: unknown key"
    assert told[MOST_TOLD - 1].startswith(f":{7 + MOST_TOLD}:1: ")
    assert told[MOST_TOLD:] == [f": … and {502 - MOST_TOLD} more faults"]


def test_a_file_beyond_reason_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "LARGEST_BYTES", 1 << 20)
    assert faults(tmp_path, LEAST + "#" * (1 << 20)) == [": expected a file of at most 1 MB, got a longer one"]
    monkeypatch.setattr(loading, "MOST_VALUES", 100)
    assert faults(tmp_path, LEAST.replace('["drop"]', f"[{'1,' * 100}]")) == [": expected at most 100 values, got more"]


def test_a_long_fault_is_cut(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, LEAST + f'[site]\ntimezone = "{"z" * 10_000}"\n')
    assert len(fault) < 700


@pytest.mark.parametrize("path", ['"a\\u0000b"', f'"{"d" * 5000}"'])
def test_a_path_that_no_system_takes_is_refused(tmp_path: Path, path: str) -> None:
    (fault,) = faults(tmp_path, LEAST.replace('"archive"', path))
    assert fault.startswith(":3:1: folders.archive: expected a path")
