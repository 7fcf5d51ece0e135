"""Notices: one structured document each, in the words and the form that its recipient takes."""

from sentinel.render.notices.fitting import Form, Limits
from sentinel.render.notices.letter import Letter, Letters, Message, message, trial_letter

__all__ = ["Form", "Letter", "Letters", "Limits", "Message", "message", "trial_letter"]
