"""CGATS.17 / ISO 28178: bytes to document to measurement, and back to text."""
