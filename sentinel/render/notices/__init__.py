"""Notices: one structured document each, in the words and the form that its recipient takes."""

from sentinel.render.notices.forms import Form, ServiceLimits
from sentinel.render.notices.letter import (
    Letter,
    Letters,
    RenderedNotice,
    delivery_test,
    every_sample,
    rendered_notice,
    sample_documents,
)

__all__ = [
    "Form",
    "Letter",
    "Letters",
    "RenderedNotice",
    "ServiceLimits",
    "delivery_test",
    "every_sample",
    "rendered_notice",
    "sample_documents",
]
