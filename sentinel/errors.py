"""Every error this program raises on purpose, in families by who must act.

A message is a sentence: what was expected, what came, and where.
"""

from __future__ import annotations


class SentinelError(Exception):
    """The base of every error raised on purpose."""


class AdminError(SentinelError):
    """Someone who edits the configuration or runs the machine must act."""


class StoreError(AdminError):
    """The store cannot be opened, which has an exit code of its own."""


class StoreDamagedError(StoreError):
    """The store holds other bytes than were written."""


class StoreLostError(StoreError):
    """There was a store, and there is none any more, or one that belongs elsewhere."""


class BackupError(AdminError):
    """The store could not be copied."""


class SecondInstanceError(AdminError):
    """Another service holds the store, which has an exit code of its own."""


class OperatorError(SentinelError):
    """Someone who measures or exports files must act."""


class PassingError(SentinelError):
    """Nobody must act: the same work is tried again later."""


ANY_FAULT = (Exception, SystemExit)
"""What may come out of work that is fenced off: a library that asks the process to end is at fault like any other.
KeyboardInterrupt is somebody's wish and goes through."""
