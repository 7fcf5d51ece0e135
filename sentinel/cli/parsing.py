"""What argparse calls the object that commands are added to."""

from __future__ import annotations

import argparse

Commands = argparse._SubParsersAction[argparse.ArgumentParser]
