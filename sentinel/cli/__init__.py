"""Options in, text and exit codes out; one file a group of commands."""
