"""Drift of one signed component of one printing condition: control charts and the forecast.

`assess` puts it together: `charts` say whether a series has left where it stood, `control_limits` how wide their limits
must be where hundreds are watched; `steps` finds where the last step was, `trend` fits the line since then, `crossing`
reads off when it reaches a limit. Method and measured figures: README.md
beside this file.
"""
