"""A file is read once, or a sentence says why not."""

from __future__ import annotations

import pytest

from sentinel.application.sources import read_bytes
from sentinel.core.dropped_file import DroppedFile
from sentinel.core.verdict import Code, Unscored
from tests.support.fakes import FakeReader, found


def test_a_plain_file_is_read_whole() -> None:
    assert read_bytes(FakeReader(b"CGATS.17"), found(), 64.0) == b"CGATS.17"


REFUSED = {
    "link": (found(kind="link"), Code.LINK_NOT_FOLLOWED, "expected a file, got a link: links are not followed"),
    "pipe": (found(kind="other"), Code.NOT_A_FILE, "expected a file, got a folder, pipe, socket or device"),
    "200 MB": (
        found(size=200_000_000),
        Code.TOO_LARGE,
        "expected a file of at most 64 MB, got 200 MB",
    ),
}


@pytest.mark.parametrize(("entry", "code", "message"), REFUSED.values(), ids=REFUSED)
def test_what_must_not_be_read_is_refused_unread(entry: DroppedFile, code: Code, message: str) -> None:
    reader = FakeReader(b"CGATS.17")
    with pytest.raises(Unscored) as outcome:
        read_bytes(reader, entry, 64.0)
    assert (outcome.value.reason.code, str(outcome.value.reason.message)) == (code, message)
    assert reader.reads == 0


def test_a_file_of_just_the_largest_size_is_read() -> None:
    assert read_bytes(FakeReader(b"x"), found(size=64_000_000), 64.0) == b"x"


def test_a_file_just_over_the_largest_size_does_not_seem_to_be_of_it() -> None:
    with pytest.raises(Unscored) as outcome:
        read_bytes(FakeReader(), found(size=1_100_000), 1.0)
    assert not str(outcome.value.reason.message).endswith("got 1 MB")


@pytest.mark.parametrize(
    "fault",
    [OSError(5, "Input/output error"), FileNotFoundError(2, "gone"), PermissionError(13, "Permission denied")],
)
def test_what_may_pass_is_no_refusal(fault: OSError) -> None:
    with pytest.raises(type(fault)):
        read_bytes(FakeReader(fault), found(), 64.0)
