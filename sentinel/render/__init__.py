"""Facts to text. Nothing here reads or writes anything."""
