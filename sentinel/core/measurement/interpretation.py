"""What a table was taken to mean: every column and header line accounted for, and what stands in the way of figures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Literal

from sentinel.core.verdict import Code, Reason

if TYPE_CHECKING:
    from sentinel.core.measurement.measurement import MeasurementCondition
    from sentinel.core.message import Message


class Account(StrEnum):
    """What became of a column or a header line."""

    USED = "used"
    DECLARED = "declared"
    NOT_UNDERSTOOD = "not-understood"
    NOT_USED = "not-used"


@dataclass(frozen=True, slots=True)
class Accounted:
    """A column by its field, a header line by its keyword, or a setting that fills in what the file does not say.

    `value` is the header line's, or what was declared. `meaning` is what it was taken for, empty where for nothing.
    `line` counts from 1, 0 where there is no one place.
    """

    kind: Literal["column", "header", "setting"]
    name: str
    account: Account
    meaning: str = ""
    value: str | None = None
    line: int = 0


About = Literal["patches", "values", "light", "m", "backing"]
"""What something that is not understood bears on: which rows are one patch; every measured value; colours worked out
for a light and an observer, spectra aside; the M condition; the backing."""


@dataclass(frozen=True, slots=True)
class Unclear:
    """Something that bears on meaning and cannot be read in one way; the message says where and what to do."""

    about: About
    message: Message

    @property
    def reason(self) -> Reason:
        """Why there is no verdict."""
        return Reason(Code.MEANING_UNCLEAR, self.message)


def nothing() -> tuple[Accounted, ...]:
    """The parts of what was never in a file."""
    return ()


@dataclass(frozen=True, slots=True, eq=False)
class Interpretation:
    """`accounted` makes the parts when somebody asks for them: all columns in the order of the file, then all header
    lines in force. `unclear` is empty where figures can stand on the readings; `scale` says from where to where device
    values are given, empty without any."""

    accounted: Callable[[], tuple[Accounted, ...]] = nothing
    unclear: tuple[Unclear, ...] = ()
    scale: str = ""

    @property
    def parts(self) -> tuple[Accounted, ...]:
        """Every column and header line with its account."""
        return self.accounted()

    def of(self, account: Account) -> tuple[Accounted, ...]:
        """The parts of one account."""
        return tuple(part for part in self.parts if part.account is account)

    def about(self, *matters: About) -> Unclear | None:
        """The first thing unclear about any of these."""
        return next((each for each in self.unclear if each.about in matters), None)

    def declaring(
        self, own: MeasurementCondition, read_under: MeasurementCondition, inks: tuple[str, ...] = ()
    ) -> Interpretation:
        """The same under a measurement condition with settings filled in: what is declared is no longer unclear.

        `inks` are names that settings give to the channels of the file, none where it names them itself.
        """
        declared = [
            (about, name, value)
            for about, name, stated, value in (
                ("m", "m_condition", own.m, read_under.m),
                ("backing", "backing", own.backing, read_under.backing),
            )
            if stated is None and value is not None
        ]
        settled = {about for about, _, _ in declared}
        filled = [(name, value) for _, name, value in declared] + ([("inks", " ".join(inks))] if inks else [])
        parts = tuple(Accounted("setting", name, Account.DECLARED, name, value) for name, value in filled)
        unclear = tuple(each for each in self.unclear if each.about not in settled)
        return replace(self, accounted=lambda: (*self.parts, *parts), unclear=unclear)

    def as_json(self) -> dict[str, Any]:
        """The form of the JSON contract: the parts by account, and what is unclear."""
        parts = self.parts
        by_account = {account.value: [_json(part) for part in parts if part.account is account] for account in Account}
        unclear = [{"about": each.about, **each.reason.as_json()} for each in self.unclear]
        return {"device_scale": self.scale or None, **by_account, "unclear": unclear}


def _json(part: Accounted) -> dict[str, Any]:
    return {
        "kind": part.kind,
        "name": part.name,
        "value": part.value,
        "meaning": part.meaning or None,
        "line": part.line or None,
    }
