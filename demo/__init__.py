"""An invented print room that shows the sentinel at work: see README.md."""
