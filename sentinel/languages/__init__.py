"""What notices say in other languages: a catalogue each, in gettext's PO format."""
