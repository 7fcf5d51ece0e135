"""The reference of every key, written from the models: `python -m sentinel.settings.reference` prints it."""

from __future__ import annotations

import ast
import json
import sys
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from sentinel.core.scoring.names import GROUP_WORDS, METRIC_WORDS, in_its_unit, unit_of
from sentinel.settings.partial_validation import Schema
from sentinel.settings.targets_and_limits import HOUSE_LIMITS

TABLES = {
    "site": "[site]",
    "folders": "[folders]",
    "store": "[store]",
    "reader": "[reader]",
    "measurements": "[measurements]",
    "limits": "[limits.NAME]",
    "routes": "[[routes]]",
    "printers": "[printers.NAME]",
    "substrates": "[substrates.NAME]",
    "targets": "[targets.NAME]",
    "conditions": '[conditions."PRINTER/SUBSTRATE"] or [conditions."PRINTER/SUBSTRATE/MODE"]',
    "due": "[due]",
    "drift": "[drift]",
    "diagnosis": "[diagnosis]",
    "recalibration": "[recalibration]",
    "round": "[round]",
    "instruments": '[instruments."SERIAL"]',
    "recipients": "[recipients.NAME]",
    "notices": "[notices]",
    "tell": "[[tell]]",
    "duty": "[duty.NAME]",
    "heartbeat": "[heartbeat]",
}


KINDS = {
    "string": "text",
    "path": "text",
    "date": "date",
    "time": "time",
    "number": "number",
    "integer": "whole number",
    "object": "table",
    "boolean": "`true`, `false`",
}
"""Types and formats of the JSON schema in an admin's words."""


def reference() -> str:
    """Markdown: one table of keys for every table of the TOML, then the house limits."""
    schema = Schema()
    sections = [
        f"### `{heading}`\n\n| key | value | default | meaning |\n| --- | --- | --- | --- |\n"
        + "\n".join(_rows(schema, name))
        for name, heading in TABLES.items()
    ]
    return "\n\n".join([*sections, _groups(), _metrics(), _house()]) + "\n"


def schema_for_editors() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of the whole file, each key with its meaning: what editors help by."""
    root: dict[str, Any] = json.loads(json.dumps(Schema().root))
    for model in (root, *root["$defs"].values()):
        for key, node in model.get("properties", {}).items():
            meaning = " ".join(_meaning(model["title"], key).split())
            if meaning:
                node["description"] = meaning
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **root, "title": "Settings of the sentinel"}


def _groups() -> str:
    rows = [f"| `{group}` | {words} |" for group, words in GROUP_WORDS.items()]
    rows += ["| `solid_INK`, `tones_INK` | solid and tone scale of one ink, such as `solid_C` |"]
    return "### Groups of patches\n\n| group | what it is |\n| --- | --- |\n" + "\n".join(rows)


def _metrics() -> str:
    rows = [f"| `{metric}` | {words} | {_unit(metric)} |" for metric, words in METRIC_WORDS.items()]
    return "### Metrics\n\n| metric | what it is | unit of its limits |\n| --- | --- | --- |\n" + "\n".join(rows)


def _unit(metric: str) -> str:
    """As limits are given; a share is told in per cent, but given as one."""
    return "1 (0.05 is 5 %)" if in_its_unit(metric, 1.0) != 1.0 else unit_of(metric)


def _house() -> str:
    rows = [
        f"| {group} | {metric} | {limit.warn:g} | {limit.act:g} |"
        for group, metrics in HOUSE_LIMITS.items()
        for metric, limit in metrics.items()
    ]
    return "### The house limits\n\n| group | metric | warn | act |\n| --- | --- | --- | --- |\n" + "\n".join(rows)


def _rows(schema: Schema, table: str) -> Iterator[str]:
    model = schema.resolved(schema.root["properties"][table])
    while "properties" not in model:
        model = schema.resolved(schema.entry(model))
    if table == "limits":
        yield "| `GROUP.METRIC` | `{ warn = …, act = …, recover = … }` |  | Limits on a metric of a group, see below. |"
    required = model.get("required", [])
    for key, node in model["properties"].items():
        default = "required" if key in required else _default(node.get("default"))
        meaning = " ".join(_meaning(model["title"], key).split()).replace("|", "\\|")
        yield f"| `{key}` | {_kind(schema, node)} | {default} | {meaning} |"


def _meaning(model: str, key: str) -> str:
    """The text below a key in its model, or in that which the model extends."""
    bases, meanings = _written()
    found = meanings.get((model, key))
    return found if found is not None else next((_meaning(base, key) for base in bases.get(model, ()) if base), "")


@cache
def _written() -> tuple[dict[str, list[str]], dict[tuple[str, str], str]]:
    """What the models extend, and the texts below their keys; read here, as no command should pay for it."""
    bases: dict[str, list[str]] = {}
    meanings: dict[tuple[str, str], str] = {}
    for source in sorted(Path(__file__).parent.glob("*.py")):
        for node in ast.parse(source.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef):
                bases[node.name] = [base.id for base in node.bases if isinstance(base, ast.Name)]
                meanings |= {(node.name, key): text for key, text in _texts(node.body)}
    return bases, meanings


def _texts(body: Sequence[ast.stmt]) -> Iterator[tuple[str, str]]:
    for key, text in pairwise(body):
        match key, text:
            case ast.AnnAssign(target=ast.Name(id=name)), ast.Expr(value=ast.Constant(value=str(words))):
                yield name, words


def _default(value: Any) -> str:
    if value in (None, {}, []):
        return ""
    return f"`{json.dumps(value)}`".replace("|", "\\|")


def _kind(schema: Schema, node: Any) -> str:
    if "anyOf" in node:
        return " or ".join(_kind(schema, option) for option in node["anyOf"] if option.get("type") != "null")
    node = schema.resolved(node)
    if "enum" in node or "const" in node:
        return ", ".join(f"`{json.dumps(value)}`" for value in node.get("enum", [node.get("const")]))
    if node.get("type") == "array":
        items = node.get("prefixItems")
        listed = [_kind(schema, item) for item in items or [node["items"]]]
        return f"[{', '.join(listed)}]" if items else f"list of {listed[0]}"
    if node.get("type") == "object" and (entry := schema.entry(node)):
        return f"table of {_kind(schema, entry)}"
    return KINDS[node.get("format") or node["type"]]


if __name__ == "__main__":
    sys.stdout.write(reference())
