"""How the patches were read: the measurement condition, from the standard's keywords and the ways they are met."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal, TypeVar

from sentinel.core.cgats.codes import Assumed
from sentinel.core.cgats.document import Statement, Table
from sentinel.core.cgats.measurement import MeasurementCondition
from sentinel.core.cgats.notes import Notes

MCondition = Literal["M0", "M1", "M2", "M3"]
Backing = Literal["black", "white"]
Observer = Literal[2, 10]

_M: dict[str, MCondition] = {"0": "M0", "1": "M1", "2": "M2", "3": "M3"}
_M_WORD = re.compile(r"(?<![\w.])M([0-3])(?![\w.]*\w)", re.I)
_M_KEYWORD = re.compile(r"FILTER|(?:M|MEAS\w*|ILLUM\w*)_?(?:CONDITION|MODE|GEOMETRY|SOURCE|FILTER|TYPE)|ISO_?13655\w*")
_M_PHRASE = re.compile(r"\bmeasure(?:ment|d|ments)?\b[^.;]{0,40}?\bM([0-3])\b(?![\w/])|\bM([0-3]) measure", re.I)
_M_ITEM = re.compile(r"[,;]\s*M([0-3])\s*(?=[,;]|$)", re.I)
_UV_CUT = re.compile(r"uv[\s_-]*(?:cut|filter|excluded|off)|(?:no|without|excluding)[\s_-]*uv|uv", re.I)
_POLARISED = re.compile(r"pol(?:ar\w*)?(?:[\s_-]*filter)?", re.I)

_BACKINGS: dict[str, Backing] = {"white": "white", "w": "white", "wb": "white", "black": "black", "b": "black"}
_BACKINGS["bb"] = "black"
_BACKING_WORD = re.compile(r"\b(white|black)\b", re.I)
_BACKING_PHRASE = re.compile(r"\b(white|black)[\s_-]*backing\b|\bbacking\W{1,3}(white|black)\b", re.I)
_BACKING_KEYWORD = re.compile(r"(?:\w+_)?BACKING")

_ILLUMINANT = re.compile(r"\b(D(?:50|55|65|75)|F(?:[1-9]|1[0-2])|[AC])\b")
_DAYLIGHT = re.compile(r"\b(D(?:50|55|65|75))\b", re.I)
_OBSERVER = re.compile(r"(?<![\d.])(2|10)\s*(?:°|º|deg)|\b19(31|64)\b", re.I)
_GEOMETRY = re.compile(r"\b(?:geometry\W{1,3})?((?:45|0)[a-c]?\s*[/:]\s*(?:45|0)[a-c]?)\b", re.I)
_FREE_TEXT = frozenset({"#", "DESCRIPTOR", "FILE_DESCRIPTOR", "PRINT_CONDITIONS", "INSTRUMENTATION"})

_Value = TypeVar("_Value", str, int, MCondition, Backing, Observer)
