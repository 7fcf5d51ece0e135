"""Whether a folder can be used as the service uses it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sentinel.adapters.files.uses import folder_fault, free_bytes, write_fault
from sentinel.core.dropped_file import FolderUse
from tests.support.rights import NOBODY, open_folder, unprivileged


@pytest.fixture
def folder() -> Iterator[Path]:
    with open_folder() as made:
        yield made


@pytest.mark.parametrize("use", FolderUse)
def test_a_folder_that_is_open_has_no_fault(folder: Path, use: FolderUse) -> None:
    with unprivileged():
        assert folder_fault(folder, use) is None


@pytest.mark.parametrize(
    ("mode", "faulty"),
    [
        (0o555, {FolderUse.TAKEN_FROM, FolderUse.WRITTEN}),
        (0o333, {FolderUse.TAKEN_FROM, FolderUse.LOOKED_AT}),
        (0o000, set(FolderUse)),
    ],
)
def test_a_closed_folder_is_a_fault_where_its_use_needs_what_is_closed(
    folder: Path, mode: int, faulty: set[FolderUse]
) -> None:
    folder.chmod(mode)
    with unprivileged():
        faults = {use: folder_fault(folder, use) for use in FolderUse}
    folder.chmod(0o755)
    assert {use for use, fault in faults.items() if fault is not None} == faulty
    assert all(str(NOBODY) in fault and str(folder) in fault for fault in faults.values() if fault is not None)


def test_a_folder_that_is_not_there_is_a_fault_unless_it_would_be_made(folder: Path) -> None:
    missing = folder / "not" / "there"
    with unprivileged():
        assert folder_fault(missing, FolderUse.WRITTEN) is None
        for use in (FolderUse.TAKEN_FROM, FolderUse.LOOKED_AT):
            assert folder_fault(missing, use) == f"expected a folder at {missing}, got none: make it, or name another"
    folder.chmod(0o555)
    with unprivileged():
        fault = folder_fault(missing, FolderUse.WRITTEN)
    assert fault is not None, "it cannot be made in a folder that is closed"
    assert f"expected {folder} to be open" in fault


def test_a_file_or_a_link_to_nothing_is_no_folder(folder: Path) -> None:
    (folder / "file").write_text("")
    (folder / "link").symlink_to(folder / "away")
    assert (
        folder_fault(folder / "file", FolderUse.WRITTEN)
        == f"expected a folder at {folder / 'file'}, got something else"
    )
    assert folder_fault(folder / "link", FolderUse.WRITTEN) is not None, "nothing is made instead of what it points to"


def test_writing_is_tried_and_leaves_nothing(folder: Path) -> None:
    assert write_fault(folder / "not" / "there") is None
    assert list(folder.iterdir()) == []
    folder.chmod(0o555)
    with unprivileged():
        assert write_fault(folder) == "Permission denied"


def test_space_is_that_of_the_nearest_folder_there_is(folder: Path) -> None:
    assert free_bytes(folder / "not" / "there") is not None
