"""Which columns of a chart may hide a light ink, and how much of a tone it makes. Names of inks and where drivers split
them are common practice, no published source."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.inks.light_inks import UNTIL, light_share, reach_share, split_columns


@pytest.mark.parametrize(
    ("inks", "told", "names"),
    [
        (("C", "M", "Y", "K"), None, {"C", "M", "K"}),
        (("C", "M", "Y", "K", "O", "G"), None, {"C", "M", "K"}),
        (("C", "M", "Y", "K", "LC", "LM"), None, {"K"}),
        (("C", "M", "Y", "K", "c", "m"), None, {"K"}),
        (("Cyan", "Magenta", "Yellow", "Black", "light-grey"), None, {"Cyan", "Magenta"}),
        (("C", "M", "Y", "PK", "MK"), None, {"C", "M", "PK", "MK"}),
        (("8CLR_1", "8CLR_2"), None, set()),
        (("O", "G", "V"), None, set()),
        (("C", "M", "Y", "K"), (), set()),
        (("C", "M", "Y", "K"), ("C",), {"C"}),
        (("Cyan", "Magenta", "Yellow", "Black"), ("C", "K"), {"Cyan", "Black"}),
        (("C", "M", "Y", "K", "O"), ("O", "Y"), {"O", "Y"}),
        (("C", "M", "Y", "K", "LC"), ("C", "M"), {"M"}),
    ],
)
def test_an_ink_may_be_split_where_it_often_is_or_said_to_be_and_its_light_ink_has_no_column(
    inks: tuple[str, ...], told: tuple[str, ...] | None, names: set[str]
) -> None:
    assert {inks[column] for column in split_columns(inks, told)} == names


def test_a_light_ink_makes_all_of_the_lightest_tones_and_none_of_the_full_ones() -> None:
    amounts = np.linspace(0, 1, 101)
    share = light_share(amounts)
    assert share[0] == 1.0
    assert (np.diff(share) <= 0).all()
    assert (share[amounts >= UNTIL] == 0).all()
    assert (reach_share(amounts) >= 0).all()
    assert (reach_share(np.array([0.0, 0.85, 1.0])) == 0).all()
