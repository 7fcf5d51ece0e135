"""Diagnoses of sheets that the process of the tests has had before.

A diagnosis depends on nothing but what it is given, costs more than all else that is done with a sheet, and the sheets
of the tests are few.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from functools import wraps
from typing import ParamSpec, TypeVar
from unittest import mock

from sentinel.core import assessment

Given = ParamSpec("Given")
Found = TypeVar("Found")
PARTS = ("diagnose", "moved", "recalibration_forecast")


def remembering(function: Callable[Given, Found]) -> Callable[Given, Found]:
    """Works out once what it finds of equal arguments."""
    known: dict[bytes, Found] = {}

    @wraps(function)
    def asked(*args: Given.args, **named: Given.kwargs) -> Found:
        key = pickle.dumps((args, named))
        if key not in known:
            known[key] = function(*args, **named)
        return known[key]

    return asked


@contextmanager
def diagnoses_remembered() -> Iterator[None]:
    """Wherever a check is assessed; who asks for a diagnosis itself has it worked out."""
    with ExitStack() as stack:
        for part in PARTS:
            stack.enter_context(mock.patch.object(assessment, part, remembering(getattr(assessment, part))))
        yield
