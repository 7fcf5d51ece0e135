"""What exists in the print room: printers, substrates, instruments, and how a file names them."""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from sentinel.core.conditions.measurability import InstrumentRules, Surface
from sentinel.core.conditions.name import RouteRule
from sentinel.core.measurement import Backing, MCondition
from sentinel.core.planning.room import PrinterTimes, RoundStock, core_words
from sentinel.core.scoring.policy import InkSet
from sentinel.settings.base import Hours, Names, Positive, TomlTable

LONGEST_PATTERN = 1000
"""Characters of a regular expression."""


def _pattern(text: str) -> str:
    if len(text) > LONGEST_PATTERN:
        raise ValueError(f"expected at most {LONGEST_PATTERN} characters, got {len(text)}")
    try:
        groups = re.compile(text).groupindex
    except re.error as fault:
        raise ValueError(f"expected a regular expression, got {text!r}: {fault}") from None
    except RecursionError:
        raise ValueError("expected a regular expression, got groups within groups very many deep") from None
    if unknown := set(groups) - {"printer", "substrate", "mode"}:
        raise ValueError(f"expected the named groups printer, substrate and mode, got {', '.join(sorted(unknown))}")
    return text


class RouteTable(TomlTable):
    """One way a file names its printing condition."""

    by: Literal["header", "folder", "name"]
    """Look in a header keyword, in the folder below the drop folder, or in the file's name."""
    keyword: str | None = None
    """The header keyword, for `by = "header"`."""
    pattern: Annotated[str, AfterValidator(_pattern)] = r"(?P<printer>[^/]+)/(?P<substrate>[^/]+)(/(?P<mode>[^/]+))?"
    """A regular expression that must fit from the start, with the groups printer, substrate, mode."""
    printer: str | None = None
    """The printer, where the pattern does not tell."""
    substrate: str | None = None
    """The substrate, where the pattern does not tell."""
    mode: str | None = None
    """The print mode, where the pattern does not tell."""
    m_condition: MCondition | None = None
    """Declared for files of this route that do not say."""
    backing: Backing | None = None
    """Declared for files of this route that do not say."""

    @model_validator(mode="after")
    def _complete(self) -> RouteTable:
        if (self.by == "header") != (self.keyword is not None):
            raise ValueError('expected a keyword with by = "header", and with it alone')
        found = re.compile(self.pattern).groupindex
        for part in ("printer", "substrate"):
            if (part in found) == (getattr(self, part) is not None):
                raise ValueError(f"expected {part} from the pattern or as a key, one of the two")
        return self

    @property
    def rule(self) -> RouteRule:
        """For the core."""
        fixed = {"printer": self.printer, "substrate": self.substrate, "mode": self.mode}
        return RouteRule(
            by=self.by,
            keyword=self.keyword,
            pattern=re.compile(self.pattern),
            fixed={part: name for part, name in fixed.items() if name is not None},
            m_condition=self.m_condition,
            backing=self.backing,
        )


Technology = Literal["aqueous-dye", "aqueous-pigment", "solvent", "latex", "uv"]


def _each_once(inks: tuple[str, ...]) -> tuple[str, ...]:
    if twice := sorted({ink for ink in inks if inks.count(ink) > 1}):
        raise ValueError(f"expected each ink once, got {', '.join(twice)} again")
    return inks


class PrinterTable(TomlTable):
    label: str | None = None
    """How people call it."""
    aliases: Names = ()
    """Other spellings met in files."""
    technology: Technology = "aqueous-pigment"
    """Decides which cautions a notice carries, how long a stock dries, and how far sheets are expected to move from one
    to the next: aqueous inks least, latex and UV most."""
    inks: Annotated[Names, AfterValidator(_each_once)] = ()
    """The inks in the order of the printer's channels, which names those of an n-channel chart."""
    light_inks: Annotated[Names, AfterValidator(_each_once)] | None = None
    """The inks that its driver splits, such as `["C", "M"]`: in light tones it prints a light ink in place of the full
    one, and a chart has one column for both. Their light inks are then looked for in a diagnosis; with `[]` none is.
    Where nothing is said C, M and K may have one."""
    roll_change_minutes: Annotated[int, Field(ge=1, le=10_080)] = 10
    """A roll change, from taking the old roll off until the printer can print."""
    adapter_minutes: Annotated[int, Field(ge=0, le=10_080)] = 0
    """What a roll change takes longer when the cores differ, or when one of the two is not known."""

    @model_validator(mode="after")
    def _splits_its_own(self) -> PrinterTable:
        if unknown := [ink for ink in self.light_inks or () if self.inks and ink not in self.inks]:
            raise ValueError(
                f"expected light_inks to name inks of the printer ({', '.join(self.inks)}), got {', '.join(unknown)}"
            )
        return self

    @property
    def times(self) -> PrinterTimes:
        """For a round."""
        return PrinterTimes(
            label=self.label, change_minutes=self.roll_change_minutes, adapter_minutes=self.adapter_minutes
        )


class SubstrateTable(TomlTable):
    label: str | None = None
    """How people call it."""
    aliases: Names = ()
    """Other spellings met in files."""
    finish: Literal["matte", "satin", "gloss", "metallic"] = "matte"
    base: Literal["white", "coloured"] = "white"
    opacity: Literal["opaque", "translucent", "transparent"] = "opaque"
    texture: Literal["smooth", "textured"] = "smooth"
    """Sheets of a textured stock, such as canvas, are expected to move further from one to the next."""
    without_inks: Names = ()
    """Inks of the printer that this stock leaves out, such as matte black on photo stock."""
    coated_side: Literal["out", "in"] | None = None
    """The side that is printed: `out` or `in` as the roll is wound."""
    core_inches: Positive | None = None
    """The core that rolls of this stock are wound on, where the event of a loaded roll tells no other."""
    drying_hours: Annotated[Hours, Field(gt=0)] | None = None
    """How long a chart must dry before it is measured."""
    drying_hours_by_technology: dict[Technology, Hours] = {}
    """Replaces drying_hours on printers of these technologies, such as `{ uv = 0, latex = 0.5 }`; 0 is dry at once."""
    notes: str | None = None
    """Told to whoever must print a chart: coated side, handling."""

    @property
    def surface(self) -> Surface:
        """What decides whether it can be measured."""
        return Surface(self.finish, self.base, self.opacity, self.texture)

    def drying(self, technology: Technology) -> float | None:
        """Hours that a chart dries with this kind of ink; 0 is dry at once, None where nobody said."""
        return self.drying_hours_by_technology.get(technology, self.drying_hours)

    def inks_of(self, printer: PrinterTable) -> InkSet:
        """What the printer lays on it."""
        return InkSet(printer.inks, frozenset(self.without_inks))

    def stock(self, name: str) -> RoundStock:
        """For a round."""
        return RoundStock(name=name, label=self.label, core=core_words(self.core_inches), notes=self.notes)


class InstrumentTable(TomlTable):
    label: str | None = None
    certificate_until: date | None = None
    """The last day of its certificate, a TOML date; later readings carry a remark."""
    m_condition: MCondition | None = None
    """Declared for files of this serial number that do not say."""
    backing: Backing | None = None
    """Declared for files of this serial number that do not say."""

    @property
    def rules(self) -> InstrumentRules:
        """For the core."""
        return InstrumentRules(self.label, self.certificate_until, self.m_condition, self.backing)
