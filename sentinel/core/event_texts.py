"""An event out of the texts in which people and other systems tell it."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from sentinel.core.condition import folded
from sentinel.core.events import FACTS, OF_PRINTER, OF_STOCK, REQUIRED, WORDS, Event, EventKind
from sentinel.core.routing import Catalogue
from sentinel.core.said import Sentence, said
from sentinel.errors import OperatorError

NAMES = tuple(dict.fromkeys([*WORDS, *(fact for facts in FACTS.values() for fact in facts)]))
"""What every event may tell, and the facts of every kind: the columns a file may have."""

EARLIEST, LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(9000, 1, 1, tzinfo=UTC)
"""Beyond these, another zone can leave the calendar."""
AHEAD = timedelta(days=1)
"""How far a clock elsewhere may be ahead of ours."""

LONGEST = 1000
"""Letters of one text."""

RANGES = {"celsius": (-50.0, 100.0), "percent_humidity": (0.0, 100.0)}
ANY_AMOUNT = (0.0, 1e9)

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?")
_FOLDED = {folded(name): name for name in NAMES}


class EventError(OperatorError):
    """A told event that cannot be taken: `sentence` is what was expected and what came."""

    def __init__(self, sentence: Sentence) -> None:
        super().__init__(str(sentence))
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class Known:
    """What is known where an event is told: the names that exist, the site's zone, the time (aware)."""

    names: Catalogue
    zone: tzinfo
    now: datetime


def event_from(texts: Mapping[str, str], known: Known, at: datetime | None = None) -> Event:
    """The event that these texts tell, keyed by WORDS and the names of facts; empty ones count as absent.

    `at` is when it happened where the texts do not say: now, where it is None. Its time is in UTC. Raises EventError.
    """
    told = _canonical(texts)
    kind = kind_of(told.pop("kind", None))
    printer = _one_of(said("expected a printer ({names})"), told.pop("printer", None), known.names.printers)
    substrate = _substrate(kind, told.pop("substrate", None), known.names)
    mode = _mode(kind, printer, substrate, told.pop("mode", None), known.names)
    when = told.pop("at", None)
    by = told.pop("by", None)
    return Event(
        kind=kind,
        at=_past(when, known) if when else (at or known.now).astimezone(UTC),
        printer=printer,
        substrate=substrate,
        mode=mode,
        facts=_facts(kind, told),
        told_by=by,
    )


def kind_of(text: str | None) -> EventKind:
    """The kind of event that the text is a spelling of. Raises EventError."""
    return EventKind(_one_of(said("expected a kind of event ({names})"), text, _spellings(EventKind)))


def name_of(column: str) -> str:
    """The one of NAMES that this spelling stands for: case, blanks, hyphens and underscores do not matter.

    Raises EventError where there is none.
    """
    return _one_of(said("expected a name of a column ({names})"), column, _FOLDED)


def moment(text: str, zone: tzinfo) -> datetime:
    """The time in UTC that a text in ISO 8601 names, read in `zone` where it names none. Raises EventError."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        message = said(
            "expected a time such as 2026-03-02T14:30 or 2026-03-02T14:30+01:00, got {text}", text=repr(text)
        )
        raise EventError(message) from None
    at = at if at.tzinfo is not None else at.replace(tzinfo=zone)
    if not EARLIEST <= at < LATEST:
        raise EventError(
            said(
                "expected a time from {first} to {last}, got {text}",
                first=EARLIEST.year,
                last=LATEST.year,
                text=repr(text),
            )
        )
    return at.astimezone(UTC)


def one_line(name: str, text: str) -> str:
    """The text with its blanks made one, '' where it has nothing else. Raises EventError for what cannot be shown."""
    line = " ".join(text.split())
    if not line.isprintable():
        raise EventError(said("expected {name} in letters that can be shown, got {text}", name=name, text=repr(text)))
    if len(line) > LONGEST:
        raise EventError(
            said("expected {name} in at most {most} letters, got {found}", name=name, most=LONGEST, found=len(line))
        )
    return line


def _canonical(texts: Mapping[str, str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for spelling, text in texts.items():
        name = _FOLDED.get(folded(spelling), spelling)
        if name in found:
            raise EventError(said("expected {name} once, got it twice", name=name))
        found[name] = one_line(name, text)
    return {name: text for name, text in found.items() if text}


def _substrate(kind: EventKind, text: str | None, names: Catalogue) -> str | None:
    if kind in OF_PRINTER and text is not None:
        raise EventError(
            said(
                "expected no substrate with {kind}, which speaks of the whole printer, got {text}",
                kind=kind,
                text=repr(text),
            )
        )
    if kind in OF_STOCK or text is not None:
        return _one_of(said("expected a substrate ({names})"), text, names.substrates)
    return None


def _mode(kind: EventKind, printer: str, substrate: str | None, text: str | None, names: Catalogue) -> str | None:
    if text is None:
        return None
    if kind in OF_PRINTER:
        raise EventError(
            said(
                "expected no print mode with {kind}, which speaks of the whole printer, got {text}",
                kind=kind,
                text=repr(text),
            )
        )
    modes = {
        each.mode
        for each in names.conditions
        if each.mode is not None and each.printer == printer and substrate in (None, each.substrate)
    }
    place = f"{printer}/{substrate}" if substrate else printer
    return _one_of(said("expected a print mode of {place} ({names})", place=place), text, modes)


def _past(text: str, known: Known) -> datetime:
    at = moment(text, known.zone)
    if at > known.now + AHEAD:
        now = f"{known.now.astimezone(known.zone):%Y-%m-%d %H:%M}"  # in the form in which a time is told
        raise EventError(said("expected a time that has come, now being {now}, got {text}", now=now, text=repr(text)))
    return at


def _facts(kind: EventKind, told: Mapping[str, str]) -> dict[str, str | float]:
    allowed = [*FACTS[kind], "note"]
    for name in told:
        if name not in allowed:
            raise _unknown(said("expected a fact of {kind} ({names})", kind=kind), name, allowed)
    if missing := sorted(REQUIRED.get(kind, frozenset()) - told.keys()):
        raise EventError(said("expected {facts} with {kind}, got none", facts=", ".join(missing), kind=kind))
    return {name: _number(name, text) if FACTS[kind].get(name) is float else text for name, text in told.items()}


def _number(name: str, text: str) -> float:
    if _NUMBER.fullmatch(text) is None:
        raise EventError(said("expected a number such as 12.5 for {name}, got {text}", name=name, text=repr(text)))
    least, most = RANGES.get(name, ANY_AMOUNT)
    if not least <= float(text) <= most:
        raise EventError(
            said(
                "expected {name} from {least:g} to {most:g}, got {text}",
                name=name,
                least=least,
                most=most,
                text=repr(text),
            )
        )
    return float(text)


def _spellings(names: Iterable[str]) -> dict[str, str]:
    return {folded(name): str(name) for name in names}


def _one_of(expected: Sentence, text: str | None, spellings: Mapping[str, str] | set[str]) -> str:
    """The name that the text is a spelling of; the spellings are keyed by their folded form."""
    known = spellings if isinstance(spellings, Mapping) else _spellings(spellings)
    found = known.get(folded(text or ""))
    if found is None:
        raise _unknown(expected, text, known.values())
    return found


def _unknown(expected: Sentence, text: str | None, known: Iterable[str]) -> EventError:
    """`expected` still lacks its `names`."""
    names = sorted(set(known))
    expected = expected.format(names=", ".join(names) or said("there is none"))
    if text is None:
        return EventError(said("{expected}, got none", expected=expected))
    near = difflib.get_close_matches(text, names, n=1)
    if not near:
        return EventError(said("{expected}, got {text}", expected=expected, text=repr(text)))
    return EventError(
        said("{expected}, got {text}; did you mean {near}?", expected=expected, text=repr(text), near=repr(near[0]))
    )
