"""An unattended watch over the colour of a print room."""

__version__ = "0.1.0"
