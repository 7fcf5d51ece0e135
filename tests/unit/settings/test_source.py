"""Line and column of a key, in every way TOML lets one write it."""

from __future__ import annotations

import pytest

from sentinel.settings.positions import SourcePosition, positions

PLACES: dict[str, tuple[str, tuple[str | int, ...], tuple[int, int]]] = {
    "a key of a table": ("[site]\nname = 1\n", ("site", "name"), (2, 1)),
    "an indented key": ("[site]\n\t name = 1\n", ("site", "name"), (2, 3)),
    "a table": ("\n[site]\nname = 1\n", ("site",), (2, 2)),
    "a table below another": ("[a]\nx = 1\n[a.b]\nx = 2\n", ("a", "b", "x"), (4, 1)),
    "a table whose parent comes later": ("[a.b]\nx = 1\n[a]\nx = 2\n", ("a", "x"), (4, 1)),
    "a dotted key": ("[limits]\nhouse.all.mean = 1\n", ("limits", "house", "all", "mean"), (2, 11)),
    "a dotted key from the top": ("folders.drop = 1\n", ("folders", "drop"), (1, 9)),
    "a quoted table": ('[conditions."north/satin"]\n', ("conditions", "north/satin"), (1, 13)),
    "a key quoted once": ("[a]\n'two words' = 1\n", ("a", "two words"), (2, 1)),
    "a key whose name is part of another": ("[a]\nname_of = 1\nname = 2\n", ("a", "name"), (3, 1)),
    "a key with a hyphenated twin": ("[a]\nb-name = 1\nname = 2\n", ("a", "name"), (3, 1)),
    "a key named in a comment above": ("# drop\n[a]\n# drop = 2\ndrop = 1\n", ("a", "drop"), (4, 1)),
    "a key named in a comment behind another": ("[a]\nx = 1 # drop\ndrop = 1\n", ("a", "drop"), (3, 1)),
    "a key that stands in a text": ('[a]\nx = "drop = 1"\ndrop = 1\n', ("a", "drop"), (3, 1)),
    "a key that stands in a text of lines": (
        '[a]\nx = """\ndrop = 1\n"""\ndrop = 1\n',
        ("a", "drop"),
        (5, 1),
    ),
    "a key with an array of lines": ('[a]\ndrop = [\n  "x",\n]\n', ("a", "drop"), (2, 1)),
    "a key behind an array of lines": ("[a]\nx = [\n  1,\n]\ny = 2\n", ("a", "y"), (5, 1)),
    "an item of an array of lines": ('[a]\ndrop = [\n  "x",\n  5,\n]\n', ("a", "drop", 1), (4, 3)),
    "an item of an array": ('[a]\nx = 1\ndrop = ["x", 5]\n', ("a", "drop", 1), (3, 14)),
    "a key of an inline table": ("[a]\nx = { warn = 1, act = 2 }\n", ("a", "x", "act"), (2, 17)),
    "a table of an array": ("[[r]]\nx = 1\n[[r]]\nx = 2\n", ("r", 1), (3, 1)),
    "a key of a table of an array": ("[[r]]\nx = 1\n[[r]]\nx = 2\n", ("r", 1, "x"), (4, 1)),
    "an inline table of an array": ("r = [\n  { x = 1 },\n  { y = 2 },\n]\n", ("r", 1, "y"), (3, 5)),
    "the table of a key that is missing": ("[a]\nx = 1\n[b]\n", ("b", "y"), (3, 2)),
    "a table of an array whose key is missing": ("[[r]]\n[[r]]\nx = 1\n", ("r", 1, "y"), (2, 1)),
    "the top where nothing of it is there": ("[a]\nx = 1\n", ("b", "y"), (1, 1)),
    "Windows line ends": ("[a]\r\nx = 1\r\ny = 2\r\n", ("a", "y"), (3, 1)),
    "line ends of Unicode in a text": ('[a]\nx = "a\u2028b\u0085c"\ny = 2\n', ("a", "y"), (3, 1)),
    "line ends of Unicode in a comment": ("# a\u2028b\n[a]\ny = 2\n", ("a", "y"), (3, 1)),
    "an empty text": ("", ("a",), (1, 1)),
}


@pytest.mark.parametrize(("text", "key", "place"), PLACES.values(), ids=PLACES)
def test_a_key_is_found_where_it_stands(text: str, key: tuple[str | int, ...], place: tuple[int, int]) -> None:
    assert positions(text, [key]) == [SourcePosition(*place)]
