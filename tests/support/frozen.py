"""A time of day that stands still for the whole program, commands included, in this process."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import datetime, tzinfo
from types import ModuleType
from typing import Any

import sentinel
from tests.support.clock import NOON


class _AnyMoment(type):
    def __instancecheck__(cls, each: object) -> bool:
        return isinstance(each, datetime)


class Frozen(datetime, metaclass=_AnyMoment):
    """Stands in for `datetime`; its `now` is `moment`."""

    moment = NOON

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> Any:
        return cls.moment.astimezone(tz)


def freeze(replace: Callable[[ModuleType, str, object], None] = setattr) -> None:
    """Lets every module of the program read `Frozen.moment`, whatever the modules are called."""
    for module in _modules():
        if getattr(module, "datetime", None) is datetime:
            replace(module, "datetime", Frozen)


def _modules() -> Iterator[ModuleType]:
    for found in pkgutil.walk_packages(sentinel.__path__, "sentinel."):
        if not found.name.endswith("__main__") and ".migrations." not in found.name:
            with suppress(TypeError):  # a module of types alone that only a type checker can read
                yield importlib.import_module(found.name)
