"""Which target each name stands for now, told by its hash alone: no target is understood here, so it is light."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence

from sentinel.core.scoring.policy import TargetSource
from sentinel.core.scoring.target_versions import TargetVersion, in_use

Versions = Callable[[str], Sequence[TargetVersion]]
_Stamp = tuple[int, int, int]


class TargetHashes:
    """Files are read again when inode, size or time change."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[TargetSource, _Stamp, str]] = {}

    def hash_of(self, name: str, source: TargetSource, versions: Versions) -> str | None:
        """The hash of the target's file, or of its version in use; None where there is none to be had."""
        if source.file is None:
            found = in_use(versions(name))
            return None if found is None else found.target.sha256
        try:
            status = source.file.stat()
            stamp = (status.st_ino, status.st_size, status.st_mtime_ns)
            known = self._known.get(name)
            if known is None or known[:2] != (source, stamp):
                known = (source, stamp, hashlib.sha256(source.file.read_bytes()).hexdigest())
                self._known[name] = known
        except OSError:
            return None
        return known[2]
