"""`python -m sentinel` and the console command."""

from __future__ import annotations

import sys

from sentinel.cli.app import main

if __name__ == "__main__":
    sys.exit(main())
