"""Column types that keep Python's meaning whatever database is below: UTC times and JSON."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import String, Text
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator


class UtcTime(TypeDecorator[datetime]):
    """An aware time, stored in UTC as text of one width, so that text order is time order."""

    impl = String(27)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"expected a time with its zone, got {value}")
        return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        return None if value is None else datetime.fromisoformat(value)


class Json(TypeDecorator[Any]):
    """Any JSON value, stored as text with sorted keys; NaN is refused."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ARG002
        return None if value is None else json.dumps(value, sort_keys=True, allow_nan=False, ensure_ascii=False)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ARG002
        return None if value is None else json.loads(value)


class NoticeFacts(Json):
    """A JSON object; whatever else is in the column is handed on as it is, by the name `unreadable`: it must not keep
    the notices behind it from going out."""

    cache_ok = True

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:
        try:
            facts = super().process_result_value(value, dialect)
        except (RecursionError, ValueError):
            facts = value
        return facts if isinstance(facts, dict) else {"unreadable": facts}
