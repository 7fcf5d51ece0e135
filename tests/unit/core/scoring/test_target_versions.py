"""Which version of a kept target holds."""

from __future__ import annotations

import pytest

from sentinel.core.scoring.target_versions import VersionUse, in_use, use_of
from tests.support.records import kept_target, retired


def test_without_any_version_none_is_in_use() -> None:
    assert in_use([]) is None


def test_the_newest_that_is_not_retired_is_in_use() -> None:
    versions = [kept_target(1), kept_target(2), retired(kept_target(3))]
    assert in_use(versions) == versions[1]
    assert in_use(versions[::-1]) == versions[1]


def test_where_all_are_retired_none_is_in_use() -> None:
    assert in_use([retired(kept_target(1)), retired(kept_target(2))]) is None


@pytest.mark.parametrize(("called_for", "expected"), [(True, VersionUse.IN_USE), (False, VersionUse.UNUSED)])
def test_the_newest_is_in_use_where_the_settings_call_for_it(called_for: bool, expected: VersionUse) -> None:
    assert use_of(kept_target(2), kept_target(2), called_for) is expected


def test_an_older_one_is_replaced_and_a_retired_one_is_retired() -> None:
    assert use_of(kept_target(1), kept_target(2), called_for=True) is VersionUse.REPLACED
    assert use_of(retired(kept_target(2)), kept_target(1), called_for=True) is VersionUse.RETIRED
    assert use_of(retired(kept_target(1)), None, called_for=True) is VersionUse.RETIRED
