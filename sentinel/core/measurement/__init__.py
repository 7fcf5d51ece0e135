"""What instruments read: measurements, and the readers of file formats, chosen by content."""
