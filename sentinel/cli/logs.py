"""Logs: a line an event on standard error, JSON unless a person is looking."""

from __future__ import annotations

import logging
import sys

import structlog


def log_to_stderr() -> None:
    """Sets up structlog for this process."""
    renderer: structlog.typing.Processor = (
        structlog.dev.ConsoleRenderer() if sys.stderr.isatty() else structlog.processors.JSONRenderer()
    )
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            renderer,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.INFO),
        logger_factory=structlog.WriteLoggerFactory(file=sys.stderr),
        cache_logger_on_first_use=True,
    )
