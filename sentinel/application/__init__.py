"""What anybody can ask of the sentinel: one use case a module, told in values."""
