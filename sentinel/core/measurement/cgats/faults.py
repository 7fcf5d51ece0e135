"""The code of every refusal and assumption, and the one error it raises."""

from __future__ import annotations

from enum import StrEnum

from sentinel.core.measurement.reader_bounds import ReaderBounds
from sentinel.core.message import Message, msg
from sentinel.errors import OperatorError

STRUCTURAL_BOUNDS = ReaderBounds()


class Refused(StrEnum):
    """Why a text was not read (`CgatsError.code`)."""

    FILE_TOO_LARGE = "file-too-large"
    TOO_MANY_ROWS = "too-many-rows"
    TOO_MANY_COLUMNS = "too-many-columns"
    TOO_MANY_TABLES = "too-many-tables"
    TOKEN_TOO_LONG = "token-too-long"  # noqa: S105 - a code, not a secret
    TOO_MANY_COMMENTS = "too-many-comments"
    HEADER_TOO_LONG = "header-too-long"
    EMPTY_FILE = "empty-file"
    NO_DATA = "no-data"
    BROKEN_ENCODING = "broken-encoding"
    CONTROL_CHARACTER = "control-character"
    INCLUDE_LINE = "include-line"
    UNCLOSED_QUOTE = "unclosed-quote"
    TEXT_AFTER_QUOTE = "text-after-quote"
    TEXT_AFTER_KEYWORD = "text-after-keyword"
    MISPLACED_KEYWORD = "misplaced-keyword"
    BAD_KEYWORD = "bad-keyword"
    BAD_COUNT = "bad-count"
    NO_FORMAT = "no-format"
    FORMAT_NOT_CLOSED = "format-not-closed"
    FORMAT_REPEATED = "format-repeated"
    FIELD_DOUBLED = "field-doubled"
    FIELD_COUNT = "field-count"
    UNNAMED_COLUMN = "unnamed-column"
    NO_END_DATA = "no-end-data"
    HEADER_WITHOUT_DATA = "header-without-data"
    NO_ROWS = "no-rows"
    ROW_COUNT = "row-count"
    SHORT_ROW = "short-row"
    LONG_ROW = "long-row"
    ROW_AMBIGUOUS = "row-ambiguous"
    SEPARATOR_AMBIGUOUS = "separator-ambiguous"
    COMMENT_AMBIGUOUS = "comment-ambiguous"
    NOT_A_NUMBER = "not-a-number"
    DECIMAL_AMBIGUOUS = "decimal-ambiguous"
    WAVELENGTH_DOUBLED = "wavelength-doubled"
    WAVELENGTH_IRREGULAR = "wavelength-irregular"
    WAVELENGTH_OUT_OF_RANGE = "wavelength-out-of-range"
    WAVELENGTH_UNREADABLE = "wavelength-unreadable"
    WAVELENGTH_VARIES = "wavelength-varies"
    SPECTRUM_UNPAIRED = "spectrum-unpaired"
    SCALE_AMBIGUOUS = "scale-ambiguous"
    VALUE_IMPLAUSIBLE = "value-implausible"


class Assumed(StrEnum):
    """What the reader decided where the text left it open (`Assumption.code`)."""

    ENCODING_LATIN_1 = "encoding-latin-1"
    ENCODING_UTF_16 = "encoding-utf-16"
    BYTE_ORDER_MARK = "byte-order-mark"
    LINE_ENDS_MIXED = "line-ends-mixed"
    NO_BREAK_SPACE = "no-break-space"
    FORM_FEED = "form-feed"
    END_OF_FILE_MARK = "end-of-file-mark"
    IDENTIFIER_MISSING = "identifier-missing"
    IDENTIFIER_UNKNOWN = "identifier-unknown"
    KEYWORD_REPEATED = "keyword-repeated"
    KEYWORD_UNDECLARED = "keyword-undeclared"
    VALUE_UNQUOTED = "value-unquoted"
    QUOTES_DOUBLED = "quotes-doubled"
    APOSTROPHES_QUOTE = "apostrophes-quote"
    FIELD_COUNT_MISSING = "field-count-missing"
    ROW_COUNT_MISSING = "row-count-missing"
    FORMAT_REUSED = "format-reused"
    FIELD_RESPELLED = "field-respelled"
    BLANK_COLUMNS = "blank-columns"
    ROWS_WRAPPED = "rows-wrapped"
    DECIMAL_COMMA = "decimal-comma"
    DECIMAL_MIXED = "decimal-mixed"
    VALUES_MISSING = "values-missing"
    IDS_MISSING = "ids-missing"
    IDS_REPEATED = "ids-repeated"
    WAVELENGTHS_SORTED = "wavelengths-sorted"
    REFLECTANCE_SCALE = "reflectance-scale"
    XYZ_SCALE = "xyz-scale"
    COLUMNS_INCOMPLETE = "columns-incomplete"
    DEVICE_RGB_IGNORED = "device-rgb-ignored"
    M_CONDITION_FROM_FILTER = "m-condition-from-filter"
    M_CONDITION_FROM_COMMENT = "m-condition-from-comment"
    CONDITION_CONTRADICTORY = "condition-contradictory"
    SERIAL_OF_INSTRUMENT = "serial-of-instrument"
    CREATED_NOT_UNDERSTOOD = "created-not-understood"


class CgatsError(OperatorError):
    """A text that cannot be read as CGATS.17 without guessing.

    `code` is fixed and listed in the reader's documentation; `line` and `column` count from 1 (0: no one place).
    `sentence` is the message with its place.
    """

    def __init__(self, code: str, message: Message, line: int = 0, column: int = 0) -> None:
        self.sentence = _placed(message, line, column)
        super().__init__(str(self.sentence))
        self.code = code
        self.line = line
        self.column = column


def _placed(message: Message, line: int, column: int) -> Message:
    if column:
        return msg("line {line}, column {column}: {message}", line=line, column=column, message=message)
    return msg("line {line}: {message}", line=line, message=message) if line else message
