"""How the patches were read: the measurement condition, from the standard's keywords and the ways they are met.

Each part is looked for in tiers: what is made for it (a keyword, or a pair in a value), then free text, then what
implies it. The first tier that says anything decides. What a keyword made for a part says twice with two values, or in
words that are not understood, leaves the part unclear: no figure may stand on it unless the settings declare it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Literal, cast

from sentinel.core.measurement.cgats import vocabulary
from sentinel.core.measurement.cgats.document import Notes, Statement, Table
from sentinel.core.measurement.cgats.faults import Assumed, CgatsError, Refused
from sentinel.core.measurement.cgats.tokens import shortened
from sentinel.core.measurement.cgats.vocabulary import MOST_PAIRS, SILENT, Stated, stated, unrepeated
from sentinel.core.measurement.interpretation import About, Unclear
from sentinel.core.measurement.measurement import Bandpass, MeasurementCondition
from sentinel.core.message import Message, msg

Said = Callable[[Stated], Iterable[str]]
"""What a statement says about one part, as normalised values."""

_MEASURING = re.compile(r".*(?:MEAS|ILLUM|FILTER|13655|LIGHT).*|M_?(?:CONDITION|MODE|FACTOR)|CONDITION", re.I)
_FREE_TEXT = re.compile(r"INSTRUMENTATION|(?:FILE_)?DESCRIPTOR|PRINT(?:ING)?_CONDITIONS|DATA_SOURCE|STATUS|.*MEAS.*")
_M_WORD = re.compile(r"(?<![\w.])M([0-3])(?![\w.]*\w)", re.I)
_M_PHRASE = re.compile(
    r"\bmeasur(?:ed|ing|ements?)\b[^.;]{0,40}?\bM[0-3]\b|\bM[0-3] measure|\b13655\b\W{1,3}M[0-3]\b",
    re.I,
)
_M_NAMED = re.compile(r"\bmeas(?:ur\w*)?[\s_-]?(?:cond(?:ition)?|mode)\b\W{0,3}\bM([0-3])\b", re.I)
_M_KEYS = re.compile(r"(?:ISO)?(?:MEAS\w*|13655|M)COND(?:ITION)?")
_M_ITEM = re.compile(r"[,;]\s*M([0-3])\s*(?=[,;]|$)", re.I)
_UV_CUT = re.compile(r"uv|uv[\s_-]*(?:cut|filter|filtered|excluded)|(?:no|without|excluding)[\s_-]*uv", re.I)
_UV_ALONE = re.compile(r"uv", re.I)
_POLARISED = re.compile(r"pol|polari[sz](?:ed|er|ing|ation)(?:[\s_-]*filter)?|cross[\s_-]*polari[sz]ed", re.I)
_BACKING_PHRASE = re.compile(r"\b(?:(white)|(black))[\s_-]*backing\b|\bbacking\W{1,3}(?:(white)|(black))\b", re.I)
_DAYLIGHT = re.compile(r"\b(D(?:50|55|65|75))\b", re.I)
_OBSERVER = re.compile(r"(?<![\d.])(2|10)[\s-]*(?:°|º|deg)|\b19(?:(31)|(64))\b|\bobserver\W{1,3}(2|10)\b", re.I)
_OBSERVERS = {"2": "2", "10": "10", "31": "2", "64": "10"}
_BANDPASS = re.compile(r"band[\s_-]*pass", re.I)
_CORRECTION = re.compile(r"correct", re.I)
_UNCORRECTED = re.compile(r"\b(?:un|not[\s_-]+|non[\s_-]*)corrected|\bno\b|\bnone\b|\boff\b|\bfalse\b|without", re.I)
_GEOMETRY = re.compile(r"\b((?:45|0)[a-c]?\s*[/:]\s*(?:45|0)[a-c]?)(?![\w/])", re.I)


@dataclass(frozen=True, slots=True)
class ReadUnder:
    """`meant` says what each header line, by itself, was taken for; `puzzling` are those that are not understood."""

    condition: MeasurementCondition
    meant: dict[Statement, str]
    puzzling: frozenset[Statement]
    unclear: tuple[Unclear, ...]


def measurement_condition(table: Table, notes: Notes) -> ReadUnder:
    """The measurement condition of a table; None for each part that nothing states, or that is unclear."""
    lines = _Lines(table, notes)
    m = _m_condition(lines)
    lines.white_base()
    observer = lines.agreed(OBSERVER, _observer_stated, _observer_in_text)
    condition = MeasurementCondition(
        cast("Literal['M0', 'M1', 'M2', 'M3'] | None", m),
        cast("Literal['black', 'white'] | None", lines.agreed(BACKING, _backing_stated, _backing_in_text)),
        _value(table, "FILTER", "MEASUREMENT_FILTER"),
        lines.agreed(ILLUMINANT, _illuminant_stated, _illuminant_in_text),
        cast("Literal[2, 10] | None", int(observer) if observer else None),
        _value(table, "MEASUREMENT_GEOMETRY") or lines.agreed(GEOMETRY, _geometry_in_text),
        _bandpass(table),
    )
    return ReadUnder(condition, lines.meant, frozenset(lines.puzzling), tuple(lines.unclear))


def _m_condition(lines: _Lines) -> str | None:
    told = lines.agreed(M, _m_stated, _m_in_text, _m_named)
    filtered = lines.filtered()
    if lines.is_unclear("m"):
        return None
    if told is None and filtered is None:
        m = lines.from_comment()
        lines.polarisation_understood(m)
        return m
    if told is None:
        return lines.taken(filtered, Assumed.M_CONDITION_FROM_FILTER, "the filter")
    return lines.not_against(told)


@dataclass(frozen=True, slots=True)
class _Part:
    """A part of the condition: what notes call it, what refusals do, what it bears on, and what would be understood."""

    name: str
    called: Message | None = None
    about: About | None = None
    expected: Message | None = None
    is_puzzling: Callable[[Stated], bool] = lambda _: False


M = _Part("M condition", msg("M condition"), "m")
BACKING = _Part(
    "backing",
    msg("backing"),
    "backing",
    msg("black or white as the backing"),
    lambda said: vocabulary.bears_on_backing(said) and not vocabulary.is_other_backing(said),
)
ILLUMINANT = _Part(
    "illuminant", msg("illuminant"), "light", msg("an illuminant such as D50"), vocabulary.puzzles_about_illuminant
)
OBSERVER = _Part(
    "observer", msg("observer"), "light", msg("an observer of 2 or 10 degrees"), vocabulary.puzzles_about_observer
)
GEOMETRY = _Part("geometry")


class _Lines:
    """The header lines in force for a table, its own and those it inherits, and what they were found to say."""

    def __init__(self, table: Table, notes: Notes) -> None:
        inherited = [line for line in table.inherited if line.keyword not in ("#", "KEYWORD")]
        known = {line.keyword for line in chain(table.header, inherited)}
        inherited += [Statement(k, v, table.line) for k, v in table.keywords.items() if k not in known]
        self._sources = _bounded(stated(table.header)), _bounded(stated(inherited))
        self._notes = notes
        self.meant: dict[Statement, str] = {}
        self.puzzling: set[Statement] = set()
        self.unclear: list[Unclear] = []
        for said in (*self._sources[0], *self._sources[1]):
            if said.keyword == "MEASUREMENT_GEOMETRY" and said.value:
                self._mean(said.line, "geometry")
            if vocabulary.bears_on_polarisation(said) and vocabulary.polarised(said) is False:
                self._mean(said.line, "not polarised")
            elif said.key in vocabulary.FILTERS and said.value and _filter_kind(said) is None:
                self._mean(said.line, f"filter {shortened(said.value)}")

    def is_unclear(self, about: About) -> bool:
        """Whether something is unclear about it already."""
        return any(each.about == about for each in self.unclear)

    def agreed(self, part: _Part, *tiers: Said) -> str | None:
        """The one value that the first tier with anything to say gives; a table's own header lines before others."""
        for source in self._sources:
            for turn, says in enumerate(tiers):
                found: dict[str, Statement] = {}
                for said in source:
                    for value in unrepeated(says(said)):
                        found.setdefault(value, said.line)
                        self._mean(said.line, f"{part.name} {value}")
                if len(found) > 1:
                    self._contradictory(part, found, refuse=turn == 0)
                    return None
                if found:
                    return next(iter(found))
                if turn == 0 and self._is_puzzled(part, source):
                    return None
        return None

    def _mean(self, line: Statement, meaning: str) -> None:
        before = self.meant.get(line)
        if before is None or meaning not in before.split(", "):
            self.meant[line] = f"{before}, {meaning}" if before else meaning

    def _contradictory(self, part: _Part, found: dict[str, Statement], refuse: bool) -> None:
        message = f"the header says two things about the {part.name} ({', '.join(sorted(found))}): not known"
        self._notes.add(Assumed.CONDITION_CONTRADICTORY, message, max(line.line for line in found.values()))
        if refuse and part.called and part.about:
            (one, first), (other, second), *_ = sorted(found.items(), key=lambda each: each[1].line)
            self.refuse_two(part.called, part.about, (one, first), (other, second))

    def refuse_two(
        self, called: Message, about: About, first: tuple[str, Statement], second: tuple[str, Statement]
    ) -> None:
        """Nothing can be said about the part under two statements that do not go together."""
        message = msg(
            "expected one statement of the {part}, got {first} (line {first_line}) and {second} (line {second_line}): "
            "export the readings again with one setting for it, or let an admin declare it",
            part=called,
            first=first[0],
            first_line=first[1].line,
            second=second[0],
            second_line=second[1].line,
        )
        self.unclear.append(Unclear(about, message))
        self.puzzling |= {first[1], second[1]}

    def _is_puzzled(self, part: _Part, source: list[Stated]) -> bool:
        """Whether a line made for the part is there, says something, and that is not understood."""
        for said in source:
            if part.about and part.expected and part.is_puzzling(said) and not SILENT.fullmatch(said.value.strip()):
                self.refuse_words(part.expected, part.about, said)
                return True
        return False

    def refuse_words(self, expected: Message, about: About, said: Stated) -> None:
        """A statement that bears on meaning in words that are not understood."""
        message = msg(
            "expected {expected} for {keyword}, got {value!r} (line {line}): choose it in the export dialogue, or "
            "leave the statement out if it means something else",
            expected=expected,
            keyword=shortened(said.keyword),
            value=shortened(said.value),
            line=said.line.line,
        )
        self.unclear.append(Unclear(about, message))
        self.puzzling.add(said.line)

    def filtered(self) -> str | None:
        """The M condition that filters imply: a polariser with the UV cut is M3 (ISO 13655)."""
        for source in self._sources:
            kinds = {kind: said.line for said in source if (kind := _filter_kind(said))}
            for kind, line in sorted(kinds.items(), reverse=True):
                self._mean(line, f"M condition {kind}")
                return kind
        return None

    def taken(self, value: str | None, code: Assumed, source: str) -> str | None:
        """An M condition that follows from something else, noted as such."""
        if value:
            self._notes.add(code, f"the M condition {value} was taken from {source}")
        return value

    def from_comment(self) -> str | None:
        """The M condition that comments state."""
        value = self.agreed(_COMMENTED, _m_from_comment)
        return self.taken(value, Assumed.M_CONDITION_FROM_COMMENT, "a comment")

    def not_against(self, m: str) -> str | None:
        """The stated M condition, None where a filter rules it out: ISO 13655 polarises M3 alone, and cuts the UV of
        M2 and M3."""
        for source in self._sources:
            for said in source:
                kind = _filter_kind(said)
                if (kind == "M3" and m != "M3") or (kind == "M2" and m in ("M0", "M1") and not _is_bare_uv(said)):
                    told = next((line for line, meant in self.meant.items() if f"M condition {m}" in meant), said.line)
                    filtered = f"{shortened(said.keyword)} {shortened(said.value)}"
                    self.refuse_two(msg("M condition"), "m", (m, told), (filtered, said.line))
                    return None
        return m

    def polarisation_understood(self, m: str | None) -> None:
        """A statement of polarisation must be understood where nothing else tells the M condition."""
        for source in self._sources:
            for said in source:
                if m is None and vocabulary.bears_on_polarisation(said) and vocabulary.polarised(said) is None:
                    self.refuse_words(msg("yes or none as the polarisation filter"), "m", said)
                    return

    def white_base(self) -> None:
        """Values must be those of the perfect diffuser, not of the paper."""
        for source in self._sources:
            for said in source:
                if not vocabulary.bears_on_white_base(said):
                    continue
                base = vocabulary.white_base(said)
                if base == "absolute":
                    self._mean(said.line, "white base absolute")
                    continue
                message = msg(
                    "expected values against the perfect white, got {keyword} {value!r} (line {line}): choose absolute "
                    "as the white base in the export dialogue",
                    keyword=shortened(said.keyword),
                    value=shortened(said.value),
                    line=said.line.line,
                )
                self.unclear.append(Unclear("values", message))
                self.puzzling.add(said.line)
                return


_COMMENTED = _Part("M condition")


def _bounded(source: Iterator[Stated]) -> list[Stated]:
    found: list[Stated] = []
    pairs = 0
    for said in source:
        pairs += said.paired
        if pairs > MOST_PAIRS:
            message = msg("expected at most {most} pairs such as `word=value` in the header lines", most=MOST_PAIRS)
            raise CgatsError(Refused.HEADER_TOO_LONG, message, said.line.line)
        found.append(said)
    return found


def _bandpass(table: Table) -> Bandpass | None:
    """Whether the spectra are corrected for the band-pass, where a keyword or its value speaks of that."""
    said = [f"{keyword} {value}" for keyword, value in table.keywords.items()]
    about = [text for text in said if _BANDPASS.search(text) and _CORRECTION.search(text)]
    if not about:
        return None
    return "uncorrected" if any(_UNCORRECTED.search(text) for text in about) else "corrected"


def _value(table: Table, *keywords: str) -> str | None:
    return next((table.keywords[keyword] for keyword in keywords if table.keywords.get(keyword)), None)


def _group(match: re.Match[str]) -> str:
    return match[match.lastindex or 0]


def _m_stated(said: Stated) -> Iterable[str]:
    if not _MEASURING.fullmatch(said.keyword) or vocabulary.bears_on_polarisation(said):
        return []
    found = _m_words(said)
    if found or not _M_KEYS.fullmatch(said.key):
        return found
    return [kind for kind, says in (("M2", _UV_CUT), ("M3", _POLARISED)) if says.fullmatch(said.value.strip())]


def _m_in_text(said: Stated) -> Iterable[str]:
    if said.paired or not _FREE_TEXT.fullmatch(said.keyword):
        return []
    items = _M_ITEM.finditer(said.value) if said.keyword == "INSTRUMENTATION" else ()
    return chain(_m_in_phrase(said), (f"M{match[1]}" for match in items))


def _m_in_phrase(said: Stated) -> Iterable[str]:
    """Every M condition in a text that speaks of measuring under one."""
    spoken = _M_PHRASE.search(said.value)
    return _m_words(said) if spoken else []


def _m_words(said: Stated) -> list[str]:
    return unrepeated(f"M{match[1]}" for match in _M_WORD.finditer(said.value))


def _m_named(said: Stated) -> Iterable[str]:
    """`measurement condition M1` in whatever keyword."""
    return [] if said.paired or said.keyword == "#" else (f"M{each[1]}" for each in _M_NAMED.finditer(said.value))


def _filter_kind(said: Stated) -> str | None:
    """M2 where a filter cuts the UV, M3 where it polarises (ISO 13655)."""
    if vocabulary.bears_on_polarisation(said):
        return "M3" if vocabulary.polarised(said) else None
    if said.key not in vocabulary.FILTERS:
        return None
    words = said.value.split(maxsplit=1)
    for value in (said.value.strip(), words[0] if said.paired and words else ""):
        if _UV_CUT.fullmatch(value):
            return "M2"
        if _POLARISED.fullmatch(value):
            return "M3"
    return None


def _is_bare_uv(said: Stated) -> bool:
    return _UV_ALONE.fullmatch(said.value.strip()) is not None


def _m_from_comment(said: Stated) -> Iterable[str]:
    return _m_in_phrase(said) if said.keyword == "#" else []


def _backing_stated(said: Stated) -> Iterable[str]:
    return vocabulary.backings(said) if vocabulary.bears_on_backing(said) else []


def _backing_in_text(said: Stated) -> Iterable[str]:
    if said.paired or not _FREE_TEXT.fullmatch(said.keyword):
        return []
    return ("white" if _group(match)[0] in "wW" else "black" for match in _BACKING_PHRASE.finditer(said.value))


def _illuminant_stated(said: Stated) -> Iterable[str]:
    return vocabulary.illuminants(said) if vocabulary.bears_on_illuminant(said) else []


def _illuminant_in_text(said: Stated) -> Iterable[str]:
    source = said.keyword == "MEASUREMENT_SOURCE" and "illum" in said.value.lower()
    if said.keyword == "INSTRUMENTATION" or source:
        return (match[1].upper() for match in _DAYLIGHT.finditer(said.value))
    return (illuminant for illuminant, _ in _in_one(said))


def _in_one(said: Stated) -> Iterable[tuple[str, str]]:
    """Illuminant and observer named in one, in any free text: nothing else is written so."""
    if said.paired or not _FREE_TEXT.fullmatch(said.keyword):
        return []
    return vocabulary.light_and_observer(said.value)


def _observer_stated(said: Stated) -> Iterable[str]:
    return vocabulary.observers(said) if vocabulary.bears_on_observer(said) else []


def _observer_in_text(said: Stated) -> Iterable[str]:
    if said.keyword not in ("INSTRUMENTATION", "MEASUREMENT_SOURCE"):
        return (observer for _, observer in _in_one(said))
    return (_OBSERVERS[_group(match)] for match in _OBSERVER.finditer(said.value))


def _geometry_in_text(said: Stated) -> Iterable[str]:
    return (each[1] for each in _GEOMETRY.finditer(said.value)) if said.keyword == "INSTRUMENTATION" else ()
