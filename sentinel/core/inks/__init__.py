"""What an ink does to every patch: two models, one read off the aim and one off the reading."""
