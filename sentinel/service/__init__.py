"""The work of the sentinel in the order of the flow: settle, assess, take in, announce, deliver; and its keeper."""
