"""Where bytes of the archive may lie a second time: put aside, left, damaged, copied, or in the place of a target."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from sentinel.adapters.files.drop_folder import DropFolders, NamedFiles
from sentinel.adapters.files.stamps import LARGEST_TARGET
from sentinel.core.dropped_file import DroppedFile, shown


class SecondCopies:
    """Looks through folders, no link followed below them, and at single files."""

    def __init__(self, folders: Sequence[Path], files: Sequence[Path] = ()) -> None:
        self._folders = folders
        self._files = files

    def of(self, wanted: Mapping[str, Collection[int]]) -> Iterator[tuple[str, str, bytes]]:
        """Those of these hashes that are found: the hash, where, and the bytes. What cannot be read is passed over.

        Each comes with the sizes its file may have, none of them for any.
        """
        left = dict(wanted)
        for reader, found in self._all():
            if not left:
                return
            if found.kind not in ("file", "hard link") or not _may_be(found.size, left.values()):
                continue
            with suppress(OSError):
                name = reader.hash_of(found)
                if name in left:
                    data = reader.read(found)
                    if hashlib.sha256(data).hexdigest() == name:
                        del left[name]
                        yield name, f"{shown(found.root)}/{shown(found.relative)}", data

    def _all(self) -> Iterator[tuple[DropFolders | NamedFiles, DroppedFile]]:
        named = NamedFiles()
        for path in self._files:
            with suppress(OSError):
                if (one := named.seen(path)) is not None:
                    yield named, one
        for folder in self._folders:
            there = DropFolders([folder], folder / ".nothing", ())
            yield from ((there, found) for found in there.found())


def _may_be(size: int, wanted: Iterable[Collection[int]]) -> bool:
    return size <= LARGEST_TARGET and any(not sizes or size in sizes for sizes in wanted)
