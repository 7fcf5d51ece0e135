"""A printing condition: its name, events, rules and state, why it stands so, and how it would under other settings."""
