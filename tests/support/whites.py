"""A white that published colours stand on and ours do not."""

from __future__ import annotations

from sentinel.core.colour.lab import White

D50_ICC: White = (96.42, 100.0, 82.49)
"""D50 of the ICC profile connection space (ICC.1), which Fogra's published Lab stands on.

Its b* lies 0.014 from that under `D50_ASTM_E308` in the mean of FOGRA39L: state which was used.
"""
