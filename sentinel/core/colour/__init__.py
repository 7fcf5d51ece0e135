"""Colour from spectra, its differences, tone values and densities.

Spectra go by `spectra` to X, Y, Z and by `lab` to L*, a*, b*; two of those by `difference` to one figure. Tone values
come from `tone`, densities from `density`. What these stand on: `cie`, `bands`.
"""
