"""The one way in which the demo fails."""


class NotAsExpectedError(Exception):
    """What the story expected did not happen; the sentence says what was expected and what came."""
