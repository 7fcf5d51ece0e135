"""Templates by which an admin puts notices into words of their own: Jinja2 in its sandbox, checked beforehand."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo

from sentinel.render.localizer import IN_ENGLISH, CldrLocalizer
from sentinel.render.notices.document import NoticeDocument, SectionRole, cut, tidy
from sentinel.render.notices.forms import Form, escaped, row_words

if TYPE_CHECKING:
    from jinja2.sandbox import SandboxedEnvironment

Facts = Mapping[str, Any]

TITLE = "title"
ENDINGS = (TITLE, *(form.value for form in Form))
"""A template is named KIND.ENDING, such as `check-failed.html`."""

LONGEST_FAULT, LONGEST_TITLE = 200, 100


class TemplateOutput(NamedTuple):
    """What the templates of a kind give; None where there is none or it broke."""

    title: str | None
    body: str | None


NO_OUTPUT = TemplateOutput(None, None)


class Templates:
    """Templates by name. `report` is told the name of one that breaks, and why."""

    def __init__(self, sources: Mapping[str, str], report: Callable[[str, str], None] | None = None) -> None:
        self._sources = dict(sources)
        self._report = report
        self._environments = {ending: _environment(ending, self._sources) for ending in ENDINGS}

    def message(
        self, kind: str, document: NoticeDocument, facts: Facts, form: Form, localizer: CldrLocalizer
    ) -> TemplateOutput:
        """The title and the body, with the key as its last line."""
        title = self._rendered(f"{kind}.{TITLE}", document, facts, localizer)
        body = self._rendered(f"{kind}.{form.value}", document, facts, localizer)
        return TemplateOutput(
            None if title is None else cut(tidy(" ".join(title.split())), LONGEST_TITLE) or None,
            None if body is None else f"{body.rstrip()}\n\n{_KEYS[form](document.last_line)}",
        )

    def _rendered(self, name: str, document: NoticeDocument, facts: Facts, localizer: CldrLocalizer) -> str | None:
        if name not in self._sources:
            return None
        try:
            return self.rendered(name, document, facts, localizer)
        except Exception as fault:  # a notice goes out in the built-in words rather than not at all
            if self._report is not None:
                self._report(name, _said(fault))
            return None

    def rendered(self, name: str, document: NoticeDocument, facts: Facts, localizer: CldrLocalizer = IN_ENGLISH) -> str:
        """The text of one template. Raises whatever it breaks with."""
        environment = self._environments[name.rpartition(".")[2]]
        zone = facts.get("timezone", "UTC")
        return environment.get_template(name).render(
            variables(document, facts),
            language=localizer.language,
            local=lambda time: localizer.moment(datetime.fromisoformat(time).astimezone(ZoneInfo(zone))),
        )

    def faults(self, samples: Mapping[str, Mapping[str, tuple[NoticeDocument, Facts]]]) -> Iterator[str]:
        """What is wrong with each template, tried on samples by kind and by what they are samples of."""
        for name in sorted(self._sources):
            kind, _, ending = name.rpartition(".")
            if kind not in samples or ending not in ENDINGS:
                if not name.startswith("_"):
                    yield f"{name}: expected KIND.ENDING with a kind of notice ({', '.join(samples)}) and " + (
                        f"an ending ({', '.join(ENDINGS)}), or a name that begins with _"
                    )
                continue
            yield from self._broken(name, samples[kind])

    def _broken(self, name: str, samples: Mapping[str, tuple[NoticeDocument, Facts]]) -> Iterator[str]:
        for what, (document, facts) in samples.items():
            try:
                self.rendered(name, document, facts)
            except Exception as fault:
                yield f"{name}: {_said(fault)} (tried with {what})"
                return


def variables(document: NoticeDocument, facts: Facts) -> dict[str, Any]:
    """What a template can use: a list of lines for every role of a notice's sections, and all of its facts."""
    lines = {role.value: [line for section in document.of(role) for line in _lines(section)] for role in SectionRole}
    return {
        **lines,
        "who": " ".join(lines["who"]),
        "production": " ".join(lines["production"]),
        "title": document.title,
        "urgent": document.urgent,
        "key": document.key,
        "facts": _tidied(facts),
    }


def _lines(section: Any) -> list[str]:
    return row_words(section) if section.rows else list(section.lines)


def _tidied(value: Any) -> Any:
    if isinstance(value, str):
        return tidy(value)
    if isinstance(value, Mapping):
        return {tidy(str(name)): _tidied(each) for name, each in value.items()}
    return [_tidied(each) for each in value] if isinstance(value, list | tuple) else value


def _environment(ending: str, sources: Mapping[str, str]) -> SandboxedEnvironment:
    from jinja2 import DictLoader, StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    return ImmutableSandboxedEnvironment(
        loader=DictLoader(sources),
        undefined=StrictUndefined,
        autoescape=ending == Form.HTML.value,
        finalize=_marked_down if ending == Form.MARKDOWN.value else None,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _marked_down(value: Any) -> Any:
    return escaped(value) if isinstance(value, str) else value


def _said(fault: Exception) -> str:
    """The fault in a line, with the line of the template where it is known."""
    from jinja2 import TemplateSyntaxError

    frames = [frame.lineno for frame in traceback.extract_tb(fault.__traceback__) if frame.filename == "<template>"]
    line = fault.lineno if isinstance(fault, TemplateSyntaxError) else next(reversed(frames), None)
    where = "" if line is None else f"line {line}: "
    return cut(tidy(f"{where}{type(fault).__name__}: {fault}"), LONGEST_FAULT)


def _html_key(key: str) -> str:
    from html import escape

    return f"<p>{escape(key)}</p>"


_KEYS: Mapping[Form, Callable[[str], str]] = {Form.TEXT: str, Form.MARKDOWN: escaped, Form.HTML: _html_key}
