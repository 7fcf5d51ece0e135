"""Text to sections: the keywords in force, the list of fields and the place of the rows of each table."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from sentinel.core.measurement.cgats import tokens
from sentinel.core.measurement.cgats.document import Notes, Statement
from sentinel.core.measurement.cgats.faults import Assumed, CgatsError, Refused
from sentinel.core.measurement.cgats.fields import STRUCTURE, FieldList, is_identifier, is_standard, read_format
from sentinel.core.measurement.cgats.tokens import TextLine, lines, next_structure
from sentinel.core.measurement.reading import ReaderBounds
from sentinel.core.message import msg

COMMENT = "#"
DECLARATION = "KEYWORD"
_SEVERAL_VALUES = ("WEIGHTING_FUNCTION", "COMPUTATIONAL_PARAMETER", DECLARATION)


def keywords_in_force(sections: Iterable[TableSection], notes: Notes) -> list[Mapping[str, str]]:
    """Each table's keywords, upper-cased: its own over those of the tables above it on the same sheet."""
    found: list[Mapping[str, str]] = []
    inherited: dict[str, str] = {}
    declared: set[str] = set()
    for section in sections:
        declared |= {s.value.upper() for s in section.statements if s.keyword == DECLARATION}
        own: dict[str, str] = {}
        for statement in section.statements:
            if statement.keyword not in (COMMENT, DECLARATION):
                _note(statement, own, declared, notes)
                own[statement.keyword] = statement.value
        inherited = own if section.fresh else inherited | own
        found.append(inherited)
    return found


def inherited_statements(sections: Iterable[TableSection], most: int) -> list[tuple[Statement, ...]]:
    """For each table the header lines above it on the same sheet whose keywords it does not repeat.

    At most `most` for all tables together: each hands on what it inherits, so that few lines could become many.
    """
    found: list[tuple[Statement, ...]] = []
    last: TableSection | None = None
    total = 0
    for section in sections:
        own = {statement.keyword for statement in section.statements} | {COMMENT, DECLARATION}
        kept: tuple[Statement, ...] = ()
        if last and not section.fresh:
            above = (found[-1], last.statements)
            kept = tuple(statement for each in above for statement in each if statement.keyword not in own)
        total += len(kept)
        if total > most:
            message = msg("expected tables that inherit at most {most} header lines together", most=most)
            raise CgatsError(Refused.HEADER_TOO_LONG, message, section.line)
        found.append(kept)
        last = section
    return found


def _note(statement: Statement, own: dict[str, str], declared: set[str], notes: Notes) -> None:
    keyword = statement.keyword
    if own.get(keyword, statement.value) != statement.value and keyword not in _SEVERAL_VALUES:
        message = f"{keyword} is given twice with different values; the later one was taken"
        notes.add(Assumed.KEYWORD_REPEATED, message, statement.line)
    if not is_standard(keyword) and keyword not in declared:
        message = f"{keyword} is no standard keyword and was not declared; it was taken as one"
        notes.add(Assumed.KEYWORD_UNDECLARED, message, statement.line)
        declared.add(keyword)


_COUNTS = ("NUMBER_OF_FIELDS", "NUMBER_OF_SETS")
_COUNT = re.compile(r"\d{1,9}")
_BEGIN = b"BEGIN_DATA"
INCLUDES = (".INCLUDE", "$INCLUDE")


@dataclass(frozen=True, slots=True)
class TableSection:
    """One table as it stands in the text; its rows are the bytes from `start` to `end`, in so many `lines` from `line`.

    `fresh` says that an identifier line above it began a new sheet. `counts` holds the counts stated for this table
    alone.
    """

    statements: tuple[Statement, ...]
    fresh: bool
    counts: dict[str, Statement]
    format: FieldList
    start: int
    end: int
    line: int
    lines: int


@dataclass(slots=True)
class _Header:
    """What has been read above the next table."""

    statements: list[Statement] = field(default_factory=list)
    counts: dict[str, Statement] = field(default_factory=dict)
    fresh: bool = False
    format: FieldList | None = None


class SectionReader:
    """Reads a text from top to bottom; `sections` are those found so far, also where a fault ended the reading."""

    def __init__(self, raw: bytes, bounds: ReaderBounds, notes: Notes) -> None:
        self._raw = raw
        self._bounds = bounds
        self._notes = notes
        self._header = _Header()
        self._last_format: FieldList | None = None
        self._header_lines = 0
        self._begun = False
        self.sections: list[TableSection] = []
        self.identifier = ""
        self.comments: list[str] = []

    def read(self) -> list[TableSection]:
        """The sections in file order; `identifier` and `comments` hold what was found on the way."""
        if _BEGIN not in self._raw and _BEGIN not in self._raw.upper():
            message = msg("expected a CGATS text with BEGIN_DATA, but there is none in this file")
            raise CgatsError(Refused.NO_DATA, message)
        position, number = 0, 1
        while begin := self._read_header(lines(self._raw, position, number)):
            end = self._close_section(begin)
            position, number = end.after, end.number + 1
        self._refuse_leftovers()
        if not self.identifier:
            self._notes.add(Assumed.IDENTIFIER_MISSING, "the identifier line (such as CGATS.17) is missing", 1)
        return self.sections

    def _read_header(self, source: Iterator[TextLine]) -> TextLine | None:
        """Read header lines up to BEGIN_DATA and return that line; None at the end of the text."""
        for line in source:
            if line.after - line.start > self._bounds.token_bytes:
                message = msg(
                    "expected header lines of at most {count} byte",
                    "expected header lines of at most {count} bytes",
                    count=self._bounds.token_bytes,
                )
                raise CgatsError(Refused.TOKEN_TOO_LONG, message, line.number)
            content = self._without_comment(line)
            if not content:
                continue
            word = tokens.first(content)
            keyword = word.upper()
            if keyword in STRUCTURE:
                self._begun = True
            if keyword == "BEGIN_DATA":
                _refuse_text_after(line, content, word)
                return line
            if keyword == "BEGIN_DATA_FORMAT":
                self._header.format = self._format(line, content[len(word) :], source)
            elif keyword in STRUCTURE or keyword in INCLUDES:
                raise _misplaced(line, keyword)
            elif not self._takes_identifier(line, content):
                self._read_statement(line, keyword, content[len(word) :].strip(tokens.WHITE))
        return None

    def _format(self, line: TextLine, rest: str, source: Iterator[TextLine]) -> FieldList:
        if self._header.format:
            message = msg("expected one list of fields before the data, but a second one begins here")
            raise CgatsError(Refused.FORMAT_REPEATED, message, line.number)
        return read_format(line, rest, source, self._bounds, self._notes)

    def _without_comment(self, line: TextLine) -> str:
        start = tokens.comment_start(line.text)
        if start < len(line.text):
            comment = line.text[start + 1 :].strip(tokens.WHITE)
            self._keep(Statement("#", comment, line.number))
            self.comments.append(comment)
        return line.text[:start].strip(tokens.WHITE)

    def _keep(self, statement: Statement) -> None:
        self._header_lines += 1
        if self._header_lines > self._bounds.header_lines:
            message = msg(
                "expected at most {count} keyword or comment in a file",
                "expected at most {count} keywords and comments in a file",
                count=self._bounds.header_lines,
            )
            raise CgatsError(Refused.HEADER_TOO_LONG, message, statement.line)
        self._header.statements.append(statement)

    def _takes_identifier(self, line: TextLine, content: str) -> bool:
        """Take the line as an identifier if it is one: the first line of the file, or of a later sheet."""
        if self.sections and is_identifier(content):
            self._header.fresh = True
            return True
        if self.sections or self._begun:
            return False
        self._begun = True
        word = tokens.first(content)
        if not is_identifier(word):
            if is_standard(word) or '"' in content:
                return False
            message = f"the first line, {tokens.shown(content)}, was taken as the identifier"
            self._notes.add(Assumed.IDENTIFIER_UNKNOWN, message, line.number)
        self.identifier = content
        return True

    def _read_statement(self, line: TextLine, keyword: str, rest: str) -> None:
        if '"' in keyword or "'" in keyword:
            message = msg(
                "expected a keyword at the beginning of the line, but {text} stands here", text=tokens.shown(keyword)
            )
            raise CgatsError(Refused.BAD_KEYWORD, message, line.number)
        value = self._value(line, rest)
        statement = Statement(keyword, value, line.number)
        if keyword not in _COUNTS:
            self._keep(statement)
            return
        if not _COUNT.fullmatch(value):
            message = msg(
                "expected a whole number after {keyword}, but {text} stands here",
                keyword=keyword,
                text=tokens.shown(value),
            )
            raise CgatsError(Refused.BAD_COUNT, message, line.number)
        earlier = self._header.counts.get(keyword)
        if earlier and earlier.value != value:
            assumed = f"{keyword} is given twice; the later value was held against the rows"
            self._notes.add(Assumed.KEYWORD_REPEATED, assumed, line.number)
        self._header.counts[keyword] = statement

    def _value(self, line: TextLine, rest: str) -> str:
        """A keyword's value: one quoted word, or everything up to the end of the line."""
        spans = tokens.each_word(rest)
        first = next(spans, None)
        alone = not tokens.are_more_than(1, rest, tabbed=False)
        if first and (alone or rest[:1] == '"'):
            value = tokens.unquoted(rest, first, line.number, self._notes)
            if any(is_standard(rest[slice(*span)]) for span in spans):
                message = msg("expected a line end after the value, but a keyword follows on the same line")
                raise CgatsError(Refused.TEXT_AFTER_QUOTE, message, line.number)
            return value if alone else rest
        if first:
            assumed = "a value of several words without quotes was taken up to the end of its line"
            self._notes.add(Assumed.VALUE_UNQUOTED, assumed, line.number)
        return rest

    def _close_section(self, begin: TextLine) -> TextLine:
        """Take what stands above `begin` and the rows below it as a section; returns the line that ends them."""
        header = self._header
        fields = header.format or self._last_format
        if fields is None:
            message = msg("expected a list of fields (BEGIN_DATA_FORMAT) before BEGIN_DATA")
            raise CgatsError(Refused.NO_FORMAT, message, begin.number)
        if header.format is None:
            assumed = "this table has no list of fields of its own; the one before it was used"
            self._notes.add(Assumed.FORMAT_REUSED, assumed, begin.number)
        if len(self.sections) >= self._bounds.tables:
            message = msg(
                "expected at most {count} table in a file",
                "expected at most {count} tables in a file",
                count=self._bounds.tables,
            )
            raise CgatsError(Refused.TOO_MANY_TABLES, message, begin.number)
        end = self._end_of_rows(begin)
        self.sections.append(
            TableSection(
                tuple(header.statements),
                header.fresh,
                header.counts,
                fields,
                begin.after,
                end.start,
                begin.number + 1,
                end.number - begin.number - 1,
            )
        )
        self._last_format, self._header = fields, _Header()
        return end

    def _end_of_rows(self, begin: TextLine) -> TextLine:
        end = next_structure(self._raw, begin.after, begin.number + 1)
        if end is None:
            message = msg("expected END_DATA after the rows, but the file ends; it may be cut")
            raise CgatsError(Refused.NO_END_DATA, message, begin.number)
        content = end.text[: tokens.comment_start(end.text)].strip(tokens.WHITE)
        word = tokens.first(content)
        if word.upper() != "END_DATA":
            message = msg("expected END_DATA after the rows, but {word} stands here", word=word)
            raise CgatsError(Refused.NO_END_DATA, message, end.number)
        _refuse_text_after(end, content, word)
        return end

    def _refuse_leftovers(self) -> None:
        """Header lines below the last table mean that a table is missing: the file may be cut."""
        header = self._header
        left = [s for s in (*header.statements, *header.counts.values()) if s.keyword != "#"]
        if not (left or header.fresh or header.format or not self.sections):
            return
        line = left[0].line if left else header.format.line if header.format else 0
        message = msg("expected a table below these header lines, but the file ends; it may be cut")
        raise CgatsError(Refused.HEADER_WITHOUT_DATA, message, line)


def _refuse_text_after(line: TextLine, content: str, word: str) -> None:
    rest = content[len(word) :].strip(tokens.WHITE)
    if rest:
        message = msg(
            "expected nothing after {word} on its line, but {text} follows", word=word, text=tokens.shown(rest)
        )
        raise CgatsError(Refused.TEXT_AFTER_KEYWORD, message, line.number)


def _misplaced(line: TextLine, keyword: str) -> CgatsError:
    if keyword in INCLUDES:
        message = msg("a line that includes another file is never followed; put its text in its place")
        return CgatsError(Refused.INCLUDE_LINE, message, line.number)
    message = msg("expected header lines, but {keyword} stands here without its beginning", keyword=keyword)
    return CgatsError(Refused.MISPLACED_KEYWORD, message, line.number)
