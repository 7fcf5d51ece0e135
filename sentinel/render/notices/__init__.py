"""Notices: one structured document each, in the words and the form that its recipient takes."""

from sentinel.render.notices.forms import Form, ServiceLimits
from sentinel.render.notices.letter import Letter, Letters, RenderedNotice, rendered_notice, trial_letter

__all__ = ["Form", "Letter", "Letters", "RenderedNotice", "ServiceLimits", "rendered_notice", "trial_letter"]
