"""Judges of the diagnosis: worlds of other physics than its own, never to be tuned on. `README.md` tells the method."""
