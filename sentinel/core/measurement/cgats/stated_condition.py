"""How the patches were read: the measurement condition, from the standard's keywords and the ways they are met.

Each part is looked for in tiers: the keyword made for it, then keywords of free text, then what implies it. The first
tier that says anything decides; where it says two different things the part stays unknown, and that is noted.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Literal, cast

from sentinel.core.measurement.cgats.document import Notes, Statement, Table
from sentinel.core.measurement.cgats.faults import Assumed
from sentinel.core.measurement.measurement import Bandpass, MeasurementCondition

Said = Callable[[Statement], Iterable[str]]
"""What a header line says about one part, as normalised values."""

_MEASURING = re.compile(r".*(?:MEAS|ILLUM|FILTER|13655|LIGHT).*|M_?(?:CONDITION|MODE|FACTOR)|CONDITION")
_FREE_TEXT = re.compile(r"INSTRUMENTATION|(?:FILE_)?DESCRIPTOR|PRINT(?:ING)?_CONDITIONS|DATA_SOURCE|STATUS|.*MEAS.*")
_M_WORD = re.compile(r"(?<![\w.])M([0-3])(?![\w.]*\w)", re.I)
_M_PHRASE = re.compile(
    r"\bmeasur(?:ed|ing|ements?)\b[^.;]{0,40}?\bM[0-3]\b|\bM[0-3] measure|\b13655\b\W{1,3}M[0-3]\b",
    re.I,
)
_M_ITEM = re.compile(r"[,;]\s*M([0-3])\s*(?=[,;]|$)", re.I)
_UV_CUT = re.compile(r"uv|uv[\s_-]*(?:cut|filter|filtered|excluded)|(?:no|without|excluding)[\s_-]*uv", re.I)
_POLARISED = re.compile(r"pol|polari[sz](?:ed|er|ing|ation)(?:[\s_-]*filter)?|cross[\s_-]*polari[sz]ed", re.I)
_FILTER_PART = re.compile(r"\bfilter\s*=\s*([\w-]+)", re.I)
_BACKING = re.compile(r"(?:\w+_)?BACKING")
_BACKING_WORD = re.compile(r"\b(?:(white|wb|w)|(black|bb|b))\b", re.I)
_BACKING_PHRASE = re.compile(r"\b(?:(white)|(black))[\s_-]*backing\b|\bbacking\W{1,3}(?:(white)|(black))\b", re.I)
_ILLUMINANT = re.compile(r"\b(D(?:50|55|65|75)|F(?:[1-9]|1[0-2])|[AC])\b", re.I)
_DAYLIGHT = re.compile(r"\b(D(?:50|55|65|75))\b", re.I)
_OBSERVER = re.compile(r"(?<![\d.])(2|10)[\s-]*(?:°|º|deg)|\b19(?:(31)|(64))\b|\bobserver\W{1,3}(2|10)\b", re.I)
_BANDPASS = re.compile(r"band[\s_-]*pass", re.I)
_CORRECTION = re.compile(r"correct", re.I)
_UNCORRECTED = re.compile(r"\b(?:un|not[\s_-]+|non[\s_-]*)corrected|\bno\b|\bnone\b|\boff\b|\bfalse\b|without", re.I)
_OBSERVERS = {"2": "2", "10": "10", "31": "2", "64": "10"}
_GEOMETRY = re.compile(r"\b((?:45|0)[a-c]?\s*[/:]\s*(?:45|0)[a-c]?)(?![\w/])", re.I)


def measurement_condition(table: Table, notes: Notes) -> MeasurementCondition:
    """The measurement condition of a table; None for each part that nothing states."""
    lines = _Lines(table, notes)
    m = lines.agreed("M condition", _m_stated, _m_in_text) or lines.implied(
        _m_from_filter, Assumed.M_CONDITION_FROM_FILTER, "the filter"
    )
    m = m or lines.implied(_m_from_comment, Assumed.M_CONDITION_FROM_COMMENT, "a comment")
    observer = lines.agreed("observer", _observer_stated, _observer_in_text)
    return MeasurementCondition(
        cast("Literal['M0', 'M1', 'M2', 'M3'] | None", m),
        cast("Literal['black', 'white'] | None", lines.agreed("backing", _backing_stated, _backing_in_text)),
        _value(table, "FILTER", "MEASUREMENT_FILTER"),
        lines.agreed("illuminant", _illuminant_stated, _illuminant_in_text),
        cast("Literal[2, 10] | None", int(observer) if observer else None),
        _value(table, "MEASUREMENT_GEOMETRY") or lines.agreed("geometry", _geometry_in_text),
        _bandpass(table),
    )


def _bandpass(table: Table) -> Bandpass | None:
    """Whether the spectra are corrected for the band-pass, where a keyword or its value speaks of that."""
    said = [f"{keyword} {value}" for keyword, value in table.keywords.items()]
    about = [text for text in said if _BANDPASS.search(text) and _CORRECTION.search(text)]
    if not about:
        return None
    return "uncorrected" if any(_UNCORRECTED.search(text) for text in about) else "corrected"


class _Lines:
    """The header lines in force for a table: its own, and those it inherits."""

    def __init__(self, table: Table, notes: Notes) -> None:
        own = {statement.keyword for statement in table.header}
        inherited = tuple(Statement(k, v, table.line) for k, v in table.keywords.items() if k not in own)
        self._sources = (table.header, inherited)
        self._notes = notes

    def agreed(self, part: str, *tiers: Said) -> str | None:
        """The one value that the first tier with anything to say gives; its own header lines before inherited ones."""
        for source in self._sources:
            for said in tiers:
                found = {value: line for line in source for value in said(line)}
                if len(found) > 1:
                    message = f"the header says two things about the {part} ({', '.join(sorted(found))}): not known"
                    self._notes.add(Assumed.CONDITION_CONTRADICTORY, message, max(s.line for s in found.values()))
                    return None
                if found:
                    return next(iter(found))
        return None

    def implied(self, said: Said, code: Assumed, source: str) -> str | None:
        """An M condition that follows from something else."""
        value = self.agreed("M condition", said)
        if value:
            self._notes.add(code, f"the M condition {value} was taken from {source}")
        return value


def _value(table: Table, *keywords: str) -> str | None:
    return next((table.keywords[keyword] for keyword in keywords if table.keywords.get(keyword)), None)


def _group(match: re.Match[str]) -> str:
    return match[match.lastindex or 0]


def _m_stated(line: Statement) -> Iterable[str]:
    if not _MEASURING.fullmatch(line.keyword):
        return []
    return [f"M{match[1]}" for match in _M_WORD.finditer(line.value)]


def _m_in_text(line: Statement) -> Iterable[str]:
    if not _FREE_TEXT.fullmatch(line.keyword):
        return []
    items = _M_ITEM.findall(line.value) if line.keyword == "INSTRUMENTATION" else []
    return [*_m_in_phrase(line), *(f"M{number}" for number in items)]


def _m_in_phrase(line: Statement) -> Iterable[str]:
    """Every M condition in a text that speaks of measuring under one."""
    spoken = _M_PHRASE.search(line.value)
    return [f"M{match[1]}" for match in _M_WORD.finditer(line.value)] if spoken else []


def _m_from_filter(line: Statement) -> Iterable[str]:
    named = line.keyword in ("FILTER", "MEASUREMENT_FILTER")
    values = [line.value] if named else _FILTER_PART.findall(line.value) if "MEAS" in line.keyword else []
    kinds = (("M2", _UV_CUT), ("M3", _POLARISED))
    return [m for value in values for m, kind in kinds if kind.fullmatch(value.strip())]


def _m_from_comment(line: Statement) -> Iterable[str]:
    return _m_in_phrase(line) if line.keyword == "#" else []


def _backing_stated(line: Statement) -> Iterable[str]:
    return _backings(_BACKING_WORD, line) if _BACKING.fullmatch(line.keyword) else []


def _backing_in_text(line: Statement) -> Iterable[str]:
    return _backings(_BACKING_PHRASE, line) if _FREE_TEXT.fullmatch(line.keyword) else []


def _backings(pattern: re.Pattern[str], line: Statement) -> Iterable[str]:
    return ["white" if _group(match)[0] in "wW" else "black" for match in pattern.finditer(line.value)]


def _illuminant_stated(line: Statement) -> Iterable[str]:
    weighting = line.keyword == "WEIGHTING_FUNCTION" and "ILLUMINANT" in line.value.upper()
    if line.keyword == "ILLUMINANT" or weighting:
        return [match[1].upper() for match in _ILLUMINANT.finditer(line.value)]
    return []


def _illuminant_in_text(line: Statement) -> Iterable[str]:
    if line.keyword == "INSTRUMENTATION" or (line.keyword == "MEASUREMENT_SOURCE" and "illum" in line.value.lower()):
        return [match[1].upper() for match in _DAYLIGHT.finditer(line.value)]
    return []


def _observer_stated(line: Statement) -> Iterable[str]:
    if line.keyword.startswith("OBSERVER") and line.value.strip() in ("2", "10"):
        return [line.value.strip()]
    if line.keyword.startswith("OBSERVER") or line.keyword == "WEIGHTING_FUNCTION":
        return _observers(line)
    return []


def _observer_in_text(line: Statement) -> Iterable[str]:
    return _observers(line) if line.keyword in ("INSTRUMENTATION", "MEASUREMENT_SOURCE") else []


def _observers(line: Statement) -> Iterable[str]:
    return [_OBSERVERS[_group(match)] for match in _OBSERVER.finditer(line.value)]


def _geometry_in_text(line: Statement) -> Iterable[str]:
    return _GEOMETRY.findall(line.value) if line.keyword == "INSTRUMENTATION" else []
