"""Who imports whom in a package, read from its text.

`from package import name` is an import of the module of that name if there is one, else of the package's face, its
`__init__`. That an import of a module runs the faces above it does not count, nor what is imported by a computed name.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

Sources = Mapping[str, Path]
"""Every Python file by the name of its module."""
Imports = Mapping[str, set[str]]
"""The modules that each module imports, itself left out."""


def sources(package: Path) -> dict[str, Path]:
    """Those below the package's folder, whose name is the package's."""
    return {_module(path.relative_to(package.parent)): path for path in sorted(package.rglob("*.py"))}


def _module(path: Path) -> str:
    parts = path.with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(known: Sources, *, typed: bool) -> Imports:
    """At the top and in functions; `typed` adds those under `if TYPE_CHECKING`."""
    return {module: set(_imports(module, known, typed)) - {module} for module in known}


def circles(graph: Imports) -> set[frozenset[str]]:
    """The strongly connected components of more than one module."""
    reached = {module: _reached(graph, module) for module in graph}
    return {
        frozenset(other for other in reached[module] if module in reached[other])
        for module in graph
        if module in reached[module]
    }


def _imports(module: str, known: Sources, typed: bool) -> Iterator[str]:
    for node in _nodes(ast.parse(known[module].read_text()), typed):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)
        elif isinstance(node, ast.ImportFrom):
            base = _base(node, module, face=known[module].stem == "__init__")
            names = (f"{base}.{alias.name}" for alias in node.names)
            yield from (name if name in known else base for name in names if name in known or base in known)


def _nodes(tree: ast.AST, typed: bool) -> Iterator[ast.AST]:
    yield tree
    below: Iterable[ast.AST] = ast.iter_child_nodes(tree)
    if not typed and isinstance(tree, ast.If) and ast.unparse(tree.test).split(".")[-1] == "TYPE_CHECKING":
        below = tree.orelse
    for node in below:
        yield from _nodes(node, typed)


def _base(node: ast.ImportFrom, module: str, *, face: bool) -> str:
    if not node.level:
        return node.module or ""
    parts = module.split(".")
    return ".".join([*parts[: len(parts) - node.level + face], *filter(None, [node.module])])


def _reached(graph: Imports, start: str) -> set[str]:
    found: set[str] = set()
    ahead = [start]
    while ahead:
        new = graph[ahead.pop()] - found
        found |= new
        ahead += new
    return found
