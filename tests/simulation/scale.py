"""How large the studies are: small with every test run, ten times as many series with DRIFT_STUDIES=long."""

from __future__ import annotations

import os

LONG = os.environ.get("DRIFT_STUDIES") == "long"
TIMES = 10 if LONG else 1
