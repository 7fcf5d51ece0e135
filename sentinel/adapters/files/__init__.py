"""Folders and files: the drop folders and their events, the archive, settings and targets on the disk."""
