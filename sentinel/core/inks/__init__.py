"""What an ink does to every patch: `aim_inks` read off the aim, `read_inks` off the reading. See README."""
