"""Checks against outside sources, and the page that tells how well they are met.

Each check hands its source, the number of values, the worst deviation, what is allowed and what the expected values
stand on to `record_deviation`. Only figures that somebody can see are rows; what they are made of is asserted.
`tests/run --long tests/published --numbers-page` writes them to README.md beside this file; the page holds what that
run checked, so the run is of the whole folder.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt
import pytest

from tests.support.amount import LONG

PAGE = Path(__file__).with_name("README.md")
DATA = Path(__file__).parents[1] / "data"

FloatArray = npt.NDArray[np.float64]


Basis = Literal["published source", "independent computation", "memory"]
SOURCE: Basis = "published source"
COMPUTED: Basis = "independent computation"
MEMORY: Basis = "memory"


@dataclass(frozen=True, slots=True)
class Deviation:
    """One line of the page; `basis` is what stands behind the expected values."""

    source: str
    count: int
    worst: float
    bound: float
    basis: Basis

    def __str__(self) -> str:
        return f"| {self.source} | {self.basis} | {self.count} | {_rounded(self.worst)} | {self.bound:g} |"


_DEVIATIONS: pytest.StashKey[dict[str, Deviation]] = pytest.StashKey()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--numbers-page", action="store_true", help="write tests/published/README.md")


def pytest_configure(config: pytest.Config) -> None:
    if config.getoption("--numbers-page", default=False) and config.getoption("numprocesses", default=None):
        raise pytest.UsageError("expected one process for --numbers-page, got -n: each would write its own checks")
    if config.getoption("--numbers-page", default=False) and not LONG:
        raise pytest.UsageError("expected `tests/run --long` for --numbers-page: other runs check fewer values")
    config.stash[_DEVIATIONS] = {}


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    if session.config.getoption("--numbers-page", default=False) and exitstatus == pytest.ExitCode.OK:
        PAGE.write_text(_page(session.config.stash[_DEVIATIONS]), encoding="utf-8")


@pytest.fixture(scope="session")
def taken_names(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder for the names of checks, one for all processes of a run."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "names-of-checks"
    folder.mkdir(exist_ok=True)
    return folder


@pytest.fixture
def record_deviation(request: pytest.FixtureRequest, taken_names: Path) -> Callable[..., None]:
    """Call with (source, count, worst, bound, basis): fails if `worst` is over `bound`, keeps the line for the page."""
    deviations = request.config.stash[_DEVIATIONS]

    def record(source: str, count: int, worst: float, bound: float, basis: Basis = COMPUTED) -> None:
        name = taken_names / hashlib.sha256(source.encode()).hexdigest()
        assert not name.exists(), f"two checks call themselves {source!r}"
        name.touch()
        deviations[source] = Deviation(source, count, worst, bound, basis)
        assert worst <= bound, f"{source}: worst of {count} is off by {worst:.3g}, allowed is {bound:g}"

    return record


@pytest.fixture(scope="session")
def published_table() -> Callable[[str], FloatArray]:
    """Call with the name of a CSV file of numbers in tests/data/published: its rows, NaN for empty cells."""

    def read(name: str) -> FloatArray:
        return np.genfromtxt(DATA / "published" / name, delimiter=",", skip_header=1, dtype=np.float64)

    return read


@dataclass(frozen=True, slots=True, eq=False)
class CharacterizationData:
    """Device values in per cent (n, 4), X, Y, Z and L*, a*, b* (n, 3) of published characterization data."""

    cmyk: FloatArray
    xyz: FloatArray
    lab: FloatArray


@pytest.fixture(scope="session")
def fogra39l() -> CharacterizationData:
    """FOGRA39L, 1617 patches: its file is plain enough for numpy, so no reader of ours stands in between."""
    lines = (DATA / "datasets" / "FOGRA39L.txt").read_text(encoding="ascii").splitlines()
    rows = np.loadtxt(lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")])
    return CharacterizationData(cmyk=rows[:, 1:5], xyz=rows[:, 5:8], lab=rows[:, 8:11])


def _rounded(worst: float) -> str:
    """Two digits; rounding noise, which differs from one processor to another, has no digits to tell."""
    return "< 1e-10" if 0 < worst < 1e-10 else f"{worst:.2g}"


def _page(deviations: dict[str, Deviation]) -> str:
    lines = "\n".join(str(deviations[source]) for source in sorted(deviations))
    return f"""\
# The numbers page

How far the figures this program shows lie from what they should be by others. Written by a test run,
`tests/run --long tests/published --numbers-page`; never by hand. Where the data is from:
`tests/data/published/README.md`.

What the expected values stand on: a *published source* that was read, or a reproduction of it; an *independent
computation*, by another library or from the formulas with none of the program's code; or *memory*, of a source that
could not be read again. Allowed is what the printed digits leave open, or the noise of the last digits of a number.
Two kinds of rows are held to less: colours by the table of ISO 13655 and visual density by luminance may be off by half
of the last decimal that instruments show, one of Lab and two of density (common practice). That was chosen when the
deviations were known, so the rows show how far the two are apart, and that nothing grows; they prove no agreement to
printed digits, which single weights of that table do not have either (up to 0.0142 for three decimals).

| figure and what it is held against | stands on | values checked | worst deviation | allowed |
| --- | --- | ---: | ---: | ---: |
{lines}
"""
