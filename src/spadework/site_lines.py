"""On which line each key of a TOML text stands.

The parser of the standard library checks a TOML text and gives its values, but keeps no line numbers. This scanner
runs over a text that the parser has already accepted, so that it need not check anything: it only keeps count of
where it is. A path is a tuple of keys and, inside arrays, of indices counted from 0, as pydantic names a place.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

__all__ = ["KeyPath", "key_lines", "nearest_line"]

KeyPath = tuple[str | int, ...]

BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
SPACE = re.compile(r"[ \t]*")
BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{1,2}(?!"))?'  # up to two quotes may stand just before the closing three
    r"|'''.*?'''(?:'{1,2}(?!'))?"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
SCALAR = re.compile(r"[^,\]}#\n]+")


def key_lines(text: str) -> dict[KeyPath, int]:
    """Return the line of every key, table and array item.

    Parameters
    ----------
    text : str
        TOML that `tomllib.loads` accepts.

    Returns
    -------
    dict
        Line, counted from 1, of each path. A table that several headers add to has the line of the first.
    """
    scanner = _Scanner(text.replace("\r\n", "\n"))
    scanner.document()
    return scanner.lines


def nearest_line(lines: Mapping[KeyPath, int], path: KeyPath) -> int | None:
    """Return the line of ``path``, or of the innermost table that holds it; None when nothing is known of it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


class _Scanner:
    """A cursor over the text, and the lines found so far."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.counted_to = 0
        self.line_there = 1
        self.lines: dict[KeyPath, int] = {}
        self.array_sizes: dict[KeyPath, int] = {}

    def document(self) -> None:
        """Scan the whole text."""
        table: KeyPath = ()
        while True:
            self.skip(BLANK)
            if self.at >= len(self.text):
                return
            if self.looking_at("[["):
                table = self.header(2)
            elif self.looking_at("["):
                table = self.header(1)
            else:
                self.pair(table)

    def header(self, brackets: int) -> KeyPath:
        """Scan ``[table]`` or ``[[table]]`` and return the path of what follows."""
        line = self.line()
        self.at += brackets
        keys = self.dotted_key()
        self.at += brackets
        path: KeyPath = ()
        for key in keys[:-1]:
            path = (*path, key)
            self.lines.setdefault(path, line)
            path = self.last_item(path)
        path = (*path, keys[-1])
        self.lines.setdefault(path, line)
        if brackets == 2:
            size = self.array_sizes.get(path, 0)
            self.array_sizes[path] = size + 1
            path = (*path, size)
            self.lines[path] = line
        return path

    def last_item(self, path: KeyPath) -> KeyPath:
        """Return the path of the last table of an array of tables, or the path itself when it is none."""
        size = self.array_sizes.get(path)
        return path if size is None else (*path, size - 1)

    def pair(self, table: KeyPath) -> None:
        """Scan ``key = value``."""
        line = self.line()
        path = table
        for key in self.dotted_key():
            path = (*path, key)
            self.lines.setdefault(path, line)
        self.at += 1  # the equals sign
        self.skip(SPACE)
        self.value(path)

    def dotted_key(self) -> list[str]:
        """Scan ``a."b c".d`` with the spaces around it and return its parts."""
        keys = []
        while True:
            self.skip(SPACE)
            if self.text[self.at] in "\"'":
                keys.append(_string_value(self.take(STRING)))
            else:
                keys.append(self.take(BARE_KEY))
            self.skip(SPACE)
            if not self.looking_at("."):
                return keys
            self.at += 1

    def value(self, path: KeyPath) -> None:
        """Scan the value that belongs to ``path``."""
        mark = self.text[self.at]
        if mark in "\"'":
            self.skip(STRING)
        elif mark == "[":
            self.array(path)
        elif mark == "{":
            self.inline_table(path)
        else:
            self.skip(SCALAR)

    def array(self, path: KeyPath) -> None:
        """Scan ``[value, value]``, which may run over many lines."""
        self.at += 1
        item = 0
        while True:
            self.skip(BLANK)
            if self.looking_at("]"):
                break
            self.lines[(*path, item)] = self.line()
            self.value((*path, item))
            item += 1
            self.skip(BLANK)
            if self.looking_at(","):
                self.at += 1
        self.at += 1

    def inline_table(self, path: KeyPath) -> None:
        """Scan ``{ key = value, key = value }``."""
        self.at += 1
        while True:
            self.skip(BLANK)
            if self.looking_at("}"):
                break
            self.pair(path)
            self.skip(BLANK)
            if self.looking_at(","):
                self.at += 1
        self.at += 1

    def looking_at(self, mark: str) -> bool:
        """Say whether ``mark`` stands at the cursor."""
        return self.text.startswith(mark, self.at)

    def take(self, pattern: re.Pattern[str]) -> str:
        """Move past ``pattern`` and return what it matched."""
        match = pattern.match(self.text, self.at)
        if match is None:
            raise ValueError(f"line {self.line()}: this is no TOML that the parser accepts")
        self.at = match.end()
        return match.group()

    def skip(self, pattern: re.Pattern[str]) -> None:
        """Move past ``pattern``."""
        self.take(pattern)

    def line(self) -> int:
        """Return the line at the cursor, counted on from the last time it was asked for."""
        self.line_there += self.text.count("\n", self.counted_to, self.at)
        self.counted_to = self.at
        return self.line_there


def _string_value(written: str) -> str:
    """Return the key that a quoted key means, escapes undone by the parser itself."""
    value: str = tomllib.loads(f"key = {written}")["key"]
    return value
