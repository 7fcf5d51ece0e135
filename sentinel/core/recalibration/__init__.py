"""Curves that would bring each ink's tone scale back to the aim, and what a chart printed with them would show.

For ink-space charts alone. `forecast.recalibration_forecast` is the door; method, reasons and measured coverage stand
in the README beside this file.
"""
