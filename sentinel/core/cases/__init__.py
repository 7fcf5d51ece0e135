"""What is open on a printing condition, a file or the service itself: kinds, lives, and who is told."""
