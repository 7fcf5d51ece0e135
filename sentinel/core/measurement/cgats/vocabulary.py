"""The words that state how patches were read: in keywords, and in `word=value` pairs inside a keyword's value.

Exports write them in many spellings; a keyword is compared without spaces, underscores and hyphens, so that
`ObserverAngle`, `OBSERVER_ANGLE` and `observer angle` are one. Spellings that are in no published source are common
practice; tests/unit/core/measurement/cgats/test_vocabulary.py lists them.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeVar

from sentinel.core.measurement.cgats.document import Statement

_Found = TypeVar("_Found", bound=Hashable)

_MAY_STATE = re.compile(
    r"MEAS|ILLUM|FILTER|13655|LIGHT|CONDITION|MODE|FACTOR|INSTRUMENT|DESCRIPTOR|SOURCE|STATUS|OBSERV|POLARI|BASE"
    r"|BACKING|WEIGHTING|COMPUTATION|WHITE|SPACE|CMF|MATCHING|COLOU?RIMETR|RELATIVE|POL|D\d\d|^#",
    re.I,
)
"""What every keyword and pair that states something has in it."""
_NO_LETTER = re.compile(r"[^A-Z0-9]+")
_PAIR = re.compile(r"[=:]")
_VALUE_END = re.compile(r"[,;|]")
_PAIR_WORDS = re.compile(
    r"(?:CIE)?ILLUMIN(?:ANT|ATION)(?:NAME|TYPE)?|(?:STANDARD|CIE)?OBSERVER(?:ANGLE|NAME|TYPE)?|(?:DENSITY)?WHITEBASE"
    r"|(?:MEASUREMENT|PHYSICAL)?FILTER|POLARI[SZ](?:ATION|ER|ED|ING)(?:FILTER)?|(?:ISO)?(?:MEAS(?:URE|UREMENT|URING)?|13655)(?:COND(?:ITION)?|MODE)"
    r"|M(?:CONDITION|MODE|FACTOR)|(?:SAMPLE|MEASUREMENT)?BACKING"
)
_MOST_WORDS = 2
"""Of a pair's left side, as in `Measurement Condition=M1`."""
_LONGEST_WORDS = 120
"""Letters of them, the gap between them too."""
MOST_PAIRS = 20_000
"""In the header lines in force for one table; no export states so many. The lines are counted by the reader."""
_ENDS = tuple(re.compile(rf"(?:[\w-]+\s+){{{count - 1}}}[\w-]+$") for count in range(_MOST_WORDS, 0, -1))


@dataclass(frozen=True, slots=True)
class Stated:
    """A keyword, or the left side of a pair, with its value; `line` is the header line it stands in.

    `key` is the keyword without anything but letters and digits; `paired` says that it stood inside a value.
    """

    keyword: str
    key: str
    value: str
    line: Statement
    paired: bool = False


def unrepeated(found: Iterable[_Found]) -> list[_Found]:
    """Each once: a header line can say one thing as often as it has room for."""
    return list(dict.fromkeys(found))


def compact(keyword: str) -> str:
    """A keyword in upper case without anything but letters and digits."""
    return _NO_LETTER.sub("", keyword.upper())


def stated(lines: Iterable[Statement]) -> Iterator[Stated]:
    """Every header line, and behind it the pairs in its value whose words are of the vocabulary.

    A keyword written with its value (`ObserverAngle=10`) counts as such a pair. Comments state nothing in pairs. Lines
    without any word of the kind are passed over.
    """
    for line in lines:
        if not (_MAY_STATE.search(line.keyword) or _MAY_STATE.search(line.value)):
            continue
        yield Stated(line.keyword, compact(line.keyword), line.value, line)
        if line.keyword == "#":
            continue
        text = f"{line.keyword} {line.value}" if "=" in line.keyword else line.value
        if "=" in text or ":" in text:
            yield from _pairs(text, line)


def _pairs(text: str, line: Statement) -> Iterator[Stated]:
    """`Illumination=D50 Observer Angle=10 Filter=No` as three, each value without the words of the next pair."""
    parts = _parts(text)
    part, name = next(parts), ""
    name = _name(part)
    value = next(parts, None)
    while value is not None:
        behind = next(parts, None)
        following = "" if behind is None else _name(value)
        if name:
            own = value
            if following:
                own = value.rstrip()[: -len(following)]
            elif behind is not None:
                own = value.rstrip().rpartition(" ")[0] or value
            own = _VALUE_END.split(own, maxsplit=1)[0].strip(" \t\"'()[]")
            yield Stated(name, compact(name), own, line, paired=True)
        name, value = following, behind


def _parts(text: str) -> Iterator[str]:
    """What stands between the marks of pairs, one by one: a line can have as many as it has room for."""
    start = 0
    for mark in _PAIR.finditer(text):
        yield text[start : mark.start()]
        start = mark.end()
    yield text[start:]


def _name(part: str) -> str:
    """The word of the vocabulary that a part ends with, as written; empty where there is none."""
    words = part.rstrip()[-_LONGEST_WORDS:]
    for end in _ENDS if words else ():
        last = end.search(words)
        if last and _PAIR_WORDS.fullmatch(compact(last[0])):
            return last[0]
    return ""


SILENT = re.compile(
    r"[\s?.-]*|n/?a|none|null|nil|unknown|not (?:known|specified|stated|applicable|available)|unspecified|undefined"
    r"|default|(?:cie\s+)?standard(?:\s+observer)?",
    re.I,
)
"""Values that state nothing."""

_ILLUMINANT_KEYS = re.compile(r"(?!VIEW)\w*ILLUMIN(?:ANT|ATION)(?:NAME|TYPE)?")
_COMPUTING_KEYS = re.compile(r"WEIGHTINGFUNCTION|COMPUTATIONALPARAMETERS?")
_WHITE_POINT_KEYS = re.compile(r"(?!MEDIA|PAPER)\w*(?:WHITEP(?:OIN)?T|REF(?:ERENCE)?WHITE)(?:NAME|TYPE|XYZ)?")
_COLOUR_SPACE_KEYS = re.compile(r"(?:CIE)?COLOU?RSPACE|COLOU?RIMETR(?:Y|IC(?:DATA|VALUES|SYSTEM)?)")
_THREE = re.compile(r"\D*?" + r"(\d+(?:\.\d*)?)[\s,;/]+" * 2 + r"(\d+(?:\.\d*)?)\D*")
_WHITES: Mapping[str, tuple[float, float]] = {
    "D50": (96.42, 82.51),
    "D55": (95.68, 92.15),
    "D65": (95.05, 108.88),
    "D75": (94.97, 122.61),
    "A": (109.85, 35.58),
    "C": (98.07, 118.22),
}
"""X and Z beside Y = 100 for the 2 degree observer (CIE 015, as printed in ASTM E308; D75 from memory)."""
_NEAR_WHITE = 0.5
_SERIES = re.compile(
    r"(?<![A-Za-z0-9])(?:D[\s_-]?(?P<d>50|55|65|75)(?:00)?|FL?(?P<f>[1-9]|1[0-2]))(?![A-Za-z0-9.])", re.I
)
_LETTER = re.compile(r"(?<![A-Za-z0-9])([AC])(?![A-Za-z0-9'.])|^\s*([ac])\s*$")
_OTHER_THAN_LIGHT = re.compile(
    r"(?<!\w)M[0-3](?!\w)|\d\s*+(?:[a-c]\s*+)?[/:]\s*\d|^\s*+\d+\s*+(?:(?:°|deg\w*)\s*)?$", re.I
)
_SAYS_ILLUMINANT = re.compile("ILLUM", re.I)

_OBSERVER_KEYS = re.compile(r"\w*OBSERVER\w*|CMFS?|COLOU?RMATCHINGFUNCTIONS?")
_OBSERVER = re.compile(
    r"(?<![\d.])(2|10)[\s_-]*(?:°|º|deg)|\b19(?:(31)|(64))\b|\bobserver\W{1,3}(2|10)\b|\bD\d\d\s*/\s*(2|10)\b", re.I
)
_BARE_OBSERVER = re.compile(r"\s*(?:cie[\s_-]*)?(?:(2|two)|(10|ten))(?:\.0+)?(?:[\s_-]*deg(?:rees?)?)?\s*", re.I)
_OBSERVERS: Mapping[str, str] = {"2": "2", "10": "10", "31": "2", "64": "10"}
_LIGHT_AND_OBSERVER = re.compile(
    r"\b(?:D[\s_-]?(?P<d>50|55|65|75)|F(?P<f>[1-9]|1[0-2])|(?P<letter>[AC]))"
    r"(?:\s*/\s*|,?\s*(?=\d+\s*(?:°|º|deg)))(?P<observer>2|10)(?![\d.])",
)
"""The trade's way to name what colours were worked out for, such as `D65/10` or `D65 10°`."""
_DIGIT = re.compile(r"\d")
_SAYS_OBSERVER = re.compile("OBSERV", re.I)

FILTERS = ("FILTER", "MEASUREMENTFILTER", "PHYSICALFILTER")
"""Keys of what was in the way of the light."""

_POLARISATION_KEYS = re.compile(r"\w*POLARI[SZ](?:ATION|ER|ED|ING)\w*|POL|\w*POLFILTER")
_POLARISED = re.compile(
    r"y|yes|on|true|1|pol|polari[sz](?:ed|er|ing|ation)(?:[\s_-]*filter)?|(?:cross|linear)\w*\b.*|M3", re.I
)
_NOT_POLARISED = re.compile(r"n|no|off|false|0|without|un-?polari[sz]ed|M[012]", re.I)

_WHITE_KEYS = re.compile(r"\w*WHITEBASE")
_DENSITY = "DENS"
_ABSOLUTE = re.compile(r"abs(?:olute)?|no|off|false|0|(?:white[\s_-]*)?tile|(?:perfect )?diffuser|standard", re.I)
_RELATION_KEYS = re.compile(
    r"RELATIVETO|\w*WHITEREF(?:ERENCE)?|COLOU?RIMETR(?:Y|IC(?:MODE|DATA|VALUES)?)|\w*(?:WHITEP(?:OIN)?T|REF(?:ERENCE)?WHITE)"
)
_RELATED = re.compile(r"(?:icc[\s_-]*)?(?:(?:to[\s_-]*)?(?:media|paper|substrate)\b.*|relative\b.*)", re.I)
_OF_PAPER = re.compile(r"pap(?:er)?|sub(?:strate)?|media|rel(?:ative)?|yes|on|true|1", re.I)

_BACKING_KEYS = re.compile(r"\w*BACKING(?:MATERIAL|COLOU?R|TYPE)?")
_NAMED_BACKING = re.compile(r"(WHITE|BLACK)BACKING")
_YES = re.compile(r"y|yes|on|true|1", re.I)
_BACKING_WORD = re.compile(r"\b(?:(white|wb|w)|(black|bb|b))\b", re.I)
_OTHER_BACKING = re.compile(r".*\b(?:self|own|stack|paper|substrate|sample|same|no|opaque|transparent)\b.*", re.I)


def bears_on_illuminant(said: Stated) -> bool:
    """Whether it states the illuminant colours were worked out for, and no lamp, angle or M condition."""
    if _COMPUTING_KEYS.fullmatch(said.key):
        return _SAYS_ILLUMINANT.search(said.value) is not None or _SERIES.search(said.value) is not None
    if said.key == "ILLUMINANT":
        return True
    if _WHITE_POINT_KEYS.fullmatch(said.key):
        return _SERIES.search(said.value) is not None or _white_xyz(said) is not None
    if _COLOUR_SPACE_KEYS.fullmatch(said.key):
        return _SERIES.search(said.value) is not None
    return _ILLUMINANT_KEYS.fullmatch(said.key) is not None and _OTHER_THAN_LIGHT.search(said.value) is None


def illuminants(said: Stated) -> Iterable[str]:
    """The illuminants a statement names, such as D50, F11 or A, or gives the X, Y and Z of."""
    if white := _white_xyz(said):
        return [
            name
            for name, near in _WHITES.items()
            if max(abs(a - b) for a, b in zip(white, near, strict=True)) <= _NEAR_WHITE
        ]
    found = unrepeated(f"D{m['d']}" if m["d"] else f"F{m['f']}" for m in _SERIES.finditer(said.value))
    return found or unrepeated(_group(m).upper() for m in _LETTER.finditer(said.value))


def _white_xyz(said: Stated) -> tuple[float, float] | None:
    """X and Z of a stated white whose Y is 1 or 100; another Y is that of a paper, which is no illuminant."""
    found = _THREE.fullmatch(said.value) if _WHITE_POINT_KEYS.fullmatch(said.key) else None
    x, y, z = map(float, found.groups()) if found else (0.0, 0.0, 0.0)
    return (100 * x / y, 100 * z / y) if y in (1.0, 100.0) else None


def light_and_observer(text: str) -> Iterator[tuple[str, str]]:
    """Illuminant and observer where a text names them in one, as `D65/10`."""
    for found in _LIGHT_AND_OBSERVER.finditer(text):
        yield f"D{found['d']}" if found["d"] else f"F{found['f']}" if found["f"] else found["letter"], found["observer"]


def puzzles_about_illuminant(said: Stated) -> bool:
    """Whether it must be understood: `Illumination` may speak of the lamp, in words."""
    is_lamp = said.key.endswith("ILLUMINATION") and not _DIGIT.search(said.value)
    return bears_on_illuminant(said) and not is_lamp


def puzzles_about_observer(said: Stated) -> bool:
    """Whether it must be understood: in a text `Observer: somebody` is a person."""
    return bears_on_observer(said) and (not said.paired or _DIGIT.search(said.value) is not None)


def bears_on_observer(said: Stated) -> bool:
    """Whether it states the standard observer."""
    if _COMPUTING_KEYS.fullmatch(said.key):
        return _SAYS_OBSERVER.search(said.value) is not None or _OBSERVER.search(said.value) is not None
    if _COLOUR_SPACE_KEYS.fullmatch(said.key):
        return _OBSERVER.search(said.value) is not None
    return _OBSERVER_KEYS.fullmatch(said.key) is not None


def observers(said: Stated) -> Iterable[str]:
    """The standard observers in degrees that a statement names."""
    bare = _BARE_OBSERVER.fullmatch(said.value) if _OBSERVER_KEYS.fullmatch(said.key) else None
    if bare:
        return ["2" if bare[1] else "10"]
    return unrepeated(_OBSERVERS[_group(m)] for m in _OBSERVER.finditer(said.value))


def bears_on_polarisation(said: Stated) -> bool:
    """Whether it states that readings were polarised or not."""
    return _POLARISATION_KEYS.fullmatch(said.key) is not None


def polarised(said: Stated) -> bool | None:
    """What it states of polarisation; None where that is not understood."""
    value = said.value.strip()
    if _NOT_POLARISED.fullmatch(value) or SILENT.fullmatch(value):
        return False
    return True if _POLARISED.fullmatch(value) else None


def bears_on_white_base(said: Stated) -> bool:
    """Whether it states what white colours are related to; that of densities is none of ours."""
    if _RELATION_KEYS.fullmatch(said.key):
        return _RELATED.fullmatch(said.value.strip()) is not None
    return _WHITE_KEYS.fullmatch(said.key) is not None and _DENSITY not in said.key


def white_base(said: Stated) -> str | None:
    """`absolute` or `paper`; None where that is not understood."""
    value = said.value.strip()
    if _ABSOLUTE.fullmatch(value) or SILENT.fullmatch(value):
        return "absolute"
    return "paper" if _OF_PAPER.fullmatch(value) or _RELATED.fullmatch(value) else None


def bears_on_backing(said: Stated) -> bool:
    """Whether it states what lay below the sheet."""
    return _BACKING_KEYS.fullmatch(said.key) is not None


def backings(said: Stated) -> Iterable[str]:
    """The backings a statement of backing names, in its value or as `WHITE_BACKING yes`."""
    named = _NAMED_BACKING.fullmatch(said.key)
    if named and _YES.fullmatch(said.value.strip()):
        return [named[1].lower()]
    return unrepeated("white" if _group(m)[0] in "wW" else "black" for m in _BACKING_WORD.finditer(said.value))


def is_other_backing(said: Stated) -> bool:
    """Whether a statement of backing names something that is neither black nor white, as the sheet's own stock."""
    return _OTHER_BACKING.fullmatch(said.value) is not None


def _group(match: re.Match[str]) -> str:
    return match[match.lastindex or 0]
