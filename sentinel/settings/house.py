"""The house limits in force where the TOML says nothing.

They are our own defaults for an admin to change, of the order used for validation prints in the trade (from memory,
no table of a standard was at hand). Passing them is no statement of conformity to any standard.
"""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.scoring.limits import Limit, Limits

HOUSE_LIMITS: Limits = {
    "all": {
        "de00_mean": Limit(warn=2.0, act=3.0),
        "de00_p95": Limit(warn=4.0, act=6.0),
        "de00_max": Limit(warn=8.0, act=12.0),
    },
    "paper": {"de00_mean": Limit(warn=1.5, act=3.0)},
    "solids": {"de00_max": Limit(warn=3.0, act=5.0)},
    "greys": {"de00_mean": Limit(warn=2.0, act=3.5)},
}

HOUSE_WEIGHTS: Mapping[str, float] = {
    "healthy": 0.7,
    "wrong-substrate": 0.03,
    "patch-order": 0.03,
    "possibly-not-dry": 0.03,
    "measurement-mode": 0.03,
    "solid-off-aim": 0.03,
    "tone-shift": 0.03,
    "substrate-shade": 0.03,
    "measurement-scale": 0.03,
    "outlying-patches": 0.03,
    "unexplained": 0.01,
}
"""How often each cause is expected of a check that nothing is known of. Our own default: seven checks in ten are
healthy, and no cause is likelier than another."""
