"""The TOML an admin edits: its models, its defaults, and how a fault in it is found and told."""
