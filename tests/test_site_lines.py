"""Line numbers of the keys of a TOML text, against the parser of the standard library and against counted lines."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spadework.site_lines import KeyPath, key_lines, nearest_line


def paths(value: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    """Every path that the parser of the standard library sees."""
    if isinstance(value, dict):
        children: Any = value.items()
    elif isinstance(value, list):
        children = enumerate(value)
    else:
        return
    for key, child in children:
        yield (*path, key)
        yield from paths(child, (*path, key))


TRICKY = '''\
# line 1: a comment with [brackets] and key = "value"
title = "a # that is no comment"

[site]
name = """
[not.a.table]
key = 5 ""quoted\\""" still inside"""  # two lines more
'quoted key' = 1
"escaped \\u0041" = 2
dotted . "two words" . three = 3
file = 'C:\\new\\path'

[[keep-out]]   # first
at = [ # line 14
    0.5,

    -1e3, # after a blank line
]
corners = [[0, 0], [1, 0],
           [1, 1]]

[keep-out.more]
x = { a = 1, b = [ { c = 2 }, { c = 3, d = "}" } ], e.f = true }

[[keep-out]]
at = "T1"
when = 1979-05-27 07:32:00
empty = []
none = {}

[pad.edge]
kind = \'\'\'it's ' here\'\'\'
[pad]
margin = +0.3
'''


EXPECTED = {
    ("title",): 2,
    ("site",): 4,
    ("site", "name"): 5,
    ("site", "quoted key"): 8,
    ("site", "escaped A"): 9,
    ("site", "dotted"): 10,
    ("site", "dotted", "two words", "three"): 10,
    ("site", "file"): 11,
    ("keep-out",): 13,
    ("keep-out", 0): 13,
    ("keep-out", 0, "at"): 14,
    ("keep-out", 0, "at", 0): 15,
    ("keep-out", 0, "at", 1): 17,
    ("keep-out", 0, "corners", 1, 0): 19,
    ("keep-out", 0, "corners", 2, 1): 20,
    ("keep-out", 0, "more"): 22,
    ("keep-out", 0, "more", "x", "b", 1, "d"): 23,
    ("keep-out", 0, "more", "x", "e", "f"): 23,
    ("keep-out", 1): 25,
    ("keep-out", 1, "at"): 26,
    ("keep-out", 1, "when"): 27,
    ("keep-out", 1, "none"): 29,
    ("pad",): 31,
    ("pad", "edge", "kind"): 32,
    ("pad", "margin"): 34,
}


@pytest.mark.parametrize("path", EXPECTED, ids=lambda path: ".".join(map(str, path)))
def test_line_is_the_one_counted_by_eye_when_toml_is_tricky(path: KeyPath) -> None:
    """Every key of a text full of traps has the line that a person counts."""
    assert key_lines(TRICKY)[path] == EXPECTED[path]


@pytest.mark.parametrize("newline", ["\n", "\r\n"], ids=["unix", "windows"])
def test_paths_are_those_of_the_parser_when_toml_is_tricky(newline: str) -> None:
    """The scanner sees exactly the paths that the parser of the standard library sees."""
    text = TRICKY.replace("\n", newline)
    assert set(key_lines(text)) == set(paths(tomllib.loads(text)))


def test_lines_stay_the_same_when_line_ends_are_those_of_windows() -> None:
    """Carriage returns do not move a line."""
    assert key_lines(TRICKY.replace("\n", "\r\n")) == key_lines(TRICKY)


def test_nearest_line_is_that_of_the_table_when_a_key_is_missing() -> None:
    """A missing key is reported where its table stands."""
    lines = key_lines("\n[pad]\nmargin = 1\n")
    assert nearest_line(lines, ("pad", "building")) == 2
    assert nearest_line(lines, ("pad", "margin")) == 3
    assert nearest_line(lines, ("goal", "least")) is None


KEYS = st.text("abc-_ .#[]=\"'é", min_size=1, max_size=5)
TEXTS = st.text("ab #[]{}=,.'\"\\\n", max_size=12)


def quoted(text: str) -> str:
    """Write a basic string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


@st.composite
def values(draw: st.DrawFn, depth: int = 2) -> str:
    """Write a value: text of four kinds, a number, an array over lines or an inline table."""
    kind = draw(st.sampled_from(["basic", "literal", "long", "number", *(["array", "table"] if depth else [])]))
    if kind == "basic":
        return quoted(draw(TEXTS))
    if kind == "literal":
        return f"'{draw(st.text('ab #[]{}=,', max_size=8))}'"
    if kind == "long":
        text = draw(TEXTS).replace("\\", "\\\\").replace('"""', '""\\"')
        return f'"""{text.removesuffix(chr(34))}"""'
    if kind == "number":
        return draw(st.sampled_from(["1", "-2.5", "1e6", "true", "07:32:00", "0x1F", "+inf"]))
    items = draw(st.lists(values(depth - 1), max_size=3))
    if kind == "array":
        gap = draw(st.sampled_from(["", " ", "\n", " # note, with ] in it\n"]))
        return "[" + ",".join(f"{gap}{item}{gap}" for item in items) + gap + "]"
    return "{" + ", ".join(f"{quoted(f'k{i}')} = {item}" for i, item in enumerate(items)) + "}"


@given(st.lists(st.tuples(st.sampled_from(["[", "[["]), KEYS, st.lists(values(), max_size=3)), max_size=4))
def test_every_key_is_found_on_its_line_when_toml_is_made_up(tables: list[tuple[str, str, list[str]]]) -> None:
    """For texts made up at random, the paths are those of the parser and each key stands on its line."""
    text, marks = "", {}
    for number, (bracket, key, entries) in enumerate(tables):
        closing = bracket.replace("[", "]")
        header = quoted(f"{key}{number if bracket == '[' else ''}{len(bracket)}")
        text += f"{bracket}{header}{closing}\n"
        for i, entry in enumerate(entries):
            mark = f"mark-{number}-{i}"
            marks[mark] = text.count("\n") + 1
            text += f"{mark} = {entry}\n"
    found = key_lines(text)
    assert set(found) == set(paths(tomllib.loads(text)))
    for path, line in found.items():
        if str(path[-1]).startswith("mark-"):
            assert line == marks[str(path[-1])]
