"""Little CMS's CGATS reader (Debian's liblcms2) through ctypes: an outside reader to hold ours against."""

from __future__ import annotations

import ctypes
import ctypes.util
from dataclasses import dataclass

INSTALL = "Little CMS is needed for this check; install it (Debian and Ubuntu: apt-get install liblcms2-2)"
_HANDLE, _TEXT, _SIZE = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_uint32


def is_installed() -> bool:
    """Whether the library can be found."""
    return ctypes.util.find_library("lcms2") is not None


@dataclass(frozen=True)
class Sheet:
    """One table as Little CMS reads it: the fields, and every cell as text, row by row."""

    identifier: str
    fields: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]


_Three = ctypes.c_double * 3
"""cmsCIELab and cmsCIEXYZ."""


class LittleCms:
    """The IT8 calls of lcms2.h that reading takes, and those of colour."""

    def __init__(self) -> None:
        name = ctypes.util.find_library("lcms2")
        if name is None:
            raise RuntimeError(INSTALL)
        library = ctypes.CDLL(name)
        self.load = self._call(library, "cmsIT8LoadFromMem", _HANDLE, _HANDLE, _TEXT, _SIZE)
        self.free = self._call(library, "cmsIT8Free", None, _HANDLE)
        self._set_table = self._call(library, "cmsIT8SetTable", ctypes.c_int32, _HANDLE, _SIZE)
        self._tables = self._call(library, "cmsIT8TableCount", _SIZE, _HANDLE)
        self._type = self._call(library, "cmsIT8GetSheetType", _TEXT, _HANDLE)
        self._property_text = self._call(library, "cmsIT8GetProperty", _TEXT, _HANDLE, _TEXT)
        self._property = self._call(library, "cmsIT8GetPropertyDbl", ctypes.c_double, _HANDLE, _TEXT)
        self._format = self._call(
            library, "cmsIT8EnumDataFormat", ctypes.c_int, _HANDLE, ctypes.POINTER(ctypes.POINTER(_TEXT))
        )
        self._cell = self._call(library, "cmsIT8GetDataRowCol", _TEXT, _HANDLE, ctypes.c_int, ctypes.c_int)
        self._number = self._call(
            library, "cmsIT8GetDataRowColDbl", ctypes.c_double, _HANDLE, ctypes.c_int, ctypes.c_int
        )
        three, number = ctypes.POINTER(_Three), ctypes.c_double
        self._difference = self._call(library, "cmsCIE2000DeltaE", number, three, three, number, number, number)
        self._lab = self._call(library, "cmsXYZ2Lab", None, three, three, three)

    @staticmethod
    def _call(library: ctypes.CDLL, name: str, result: type | None, *arguments: type) -> ctypes._NamedFuncPointer:
        function = library[name]
        function.restype, function.argtypes = result, arguments
        return function

    def sheets(self, data: bytes) -> list[Sheet] | None:
        """Every table of a text, or None where Little CMS refuses it."""
        handle = self.load(None, data, len(data))
        if not handle:
            return None
        try:
            return [self._sheet(handle, table) for table in range(self._tables(handle))]
        finally:
            self.free(handle)

    def numbers(self, data: bytes, columns: int) -> list[list[float]]:
        """The first table's cells as Little CMS's own numbers."""
        handle = self.load(None, data, len(data))
        try:
            rows = int(self._property(handle, b"NUMBER_OF_SETS"))
            return [[self._number(handle, row, column) for column in range(columns)] for row in range(rows)]
        finally:
            self.free(handle)

    def keyword(self, data: bytes, name: str) -> str | None:
        """The value of a keyword."""
        handle = self.load(None, data, len(data))
        try:
            value = self._property_text(handle, name.encode())
            return None if value is None else value.decode("latin-1")
        finally:
            self.free(handle)

    def ciede2000(self, lab: list[float], other: list[float]) -> float:
        """The difference of two colours."""
        return float(self._difference(_Three(*lab), _Three(*other), 1.0, 1.0, 1.0))

    def lab(self, xyz: list[float], white: tuple[float, float, float]) -> list[float]:
        """L*, a*, b* of X, Y, Z on the scale of their white."""
        found = _Three()
        self._lab(_Three(*white), found, _Three(*xyz))
        return list(found)

    def _sheet(self, handle: int, table: int) -> Sheet:
        self._set_table(handle, table)
        names = ctypes.POINTER(_TEXT)()
        count = self._format(handle, ctypes.byref(names))
        rows = int(self._property(handle, b"NUMBER_OF_SETS"))
        cells = tuple(
            tuple((self._cell(handle, row, column) or b"").decode("latin-1") for column in range(count))
            for row in range(rows)
        )
        fields = tuple((names[index] or b"").decode("latin-1") for index in range(count))
        return Sheet(self._type(handle).decode("latin-1"), fields, cells)
