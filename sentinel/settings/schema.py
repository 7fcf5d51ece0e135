"""Walking the JSON schema of the settings: what a table of the TOML is read into."""

from __future__ import annotations

from typing import Any

from sentinel.settings.models import Settings


class Schema:
    """The schema of the whole file."""

    def __init__(self) -> None:
        self.root: Any = Settings.model_json_schema()

    def resolved(self, node: Any) -> Any:
        """The model behind a reference, through 'or nothing' and the like."""
        for option in [node, *node.get("anyOf", []), *node.get("allOf", [])]:
            if "$ref" in option:
                return self.root["$defs"][option["$ref"].rsplit("/", 1)[-1]]
        return node

    def below(self, node: Any, key: str | int) -> Any:
        """What stands at a key of a table, or at a place of a list; {} where nothing may."""
        node = self.resolved(node)
        if key in node.get("properties", {}):
            return node["properties"][key]
        return self.entry(node)

    def entry(self, node: Any) -> Any:
        """What each entry of a mapping or list is."""
        patterns = list(node.get("patternProperties", {}).values())
        return node.get("items") or (patterns[0] if patterns else None) or node.get("additionalProperties") or {}
