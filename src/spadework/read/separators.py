"""How a line falls into cells: which separator a text uses, and the cutting itself."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

__all__ = ["COMMA", "WIDE", "Separator", "choose_separator"]

WIDE_GAP = re.compile(r" {2,}|\t+")
BRACKETED = re.compile(r"[(\[][^)\]]*[)\]]")
DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
ENOUGH = 0.6


@dataclass(frozen=True)
class Separator:
    """One way of cutting a line.

    Parameters
    ----------
    name : str
        As said to the user: ``commas``.
    cut : callable
        From a line to its cells.
    """

    name: str
    cut: Callable[[str], list[str]]

    def __call__(self, line: str) -> list[str]:
        """Return the cells of ``line``, without the blanks around them."""
        return self.cut(line)


def cut_at(mark: str) -> Callable[[str], list[str]]:
    """Return the cutter for a single character, which leaves quoted cells whole."""

    def cut(line: str) -> list[str]:
        if '"' in line:
            return cut_quoted(line, mark)
        return [cell.strip() for cell in line.split(mark)]

    return cut


def cut_quoted(line: str, mark: str) -> list[str]:
    r"""Return the cells of a line with quotation marks in it.

    A cell is quoted when its first character is a quotation mark and a closing one stands just before the next
    separator. Otherwise the marks are inches, as in ``A,3' 6 1/2",4``.
    """
    cells = []
    rest = line
    while True:
        body = rest.lstrip(" ")
        closing = re.match(r'"((?:[^"]|"")*)" *(?=' + re.escape(mark) + r"|\s*$)", body) if body[:1] == '"' else None
        if closing:
            cells.append(closing.group(1).replace('""', '"').strip())
            rest = body[closing.end() :]
            if not rest.startswith(mark):
                return cells
            rest = rest[len(mark) :]
            continue
        cell, found, rest = rest.partition(mark)
        cells.append(cell.strip())
        if not found:
            return cells


def cut_bars(line: str) -> list[str]:
    """Return the cells between vertical bars; bars at both ends are a frame."""
    line = line.strip()
    if line.startswith("|") and line.endswith("|") and len(line) > 1:
        line = line[1:-1]
    return [cell.strip() for cell in line.split("|")]


def cut_wide(line: str) -> list[str]:
    """Return the cells between runs of two or more spaces."""
    return WIDE_GAP.split(line.strip())


def cut_spaces(line: str) -> list[str]:
    """Return the words of a line; a unit in brackets stays with the word before it."""
    words: list[str] = []
    for word in line.split():
        if words and BRACKETED.fullmatch(word):
            words[-1] = f"{words[-1]} {word}"
        else:
            words.append(word)
    return words


TAB = Separator("tabs", cut_at("\t"))
SEMICOLON = Separator("semicolons", cut_at(";"))
BAR = Separator("vertical bars", cut_bars)
COMMA = Separator("commas", cut_at(","))
WIDE = Separator("runs of spaces", cut_wide)
SPACES = Separator("spaces", cut_spaces)
MARKS = (TAB, SEMICOLON, BAR, COMMA)


def steadiness(lines: Sequence[str], separator: Separator) -> tuple[float, int]:
    """Return the share of lines that fall into the commonest number of cells, two or more, and that number."""
    counts = Counter(len(separator(line)) for line in lines)
    counts.pop(1, None)
    if not counts:
        return 0.0, 1
    width, often = max(counts.items(), key=lambda item: (item[1], item[0]))
    return often / len(lines), width


def share_with(lines: Sequence[str], separator: Separator, cells: int) -> float:
    """Return the share of lines that fall into so many cells or more."""
    return sum(1 for line in lines if len(separator(line)) >= cells) / len(lines)


def commas_are_decimal(lines: Sequence[str]) -> bool:
    """Say whether every comma stands inside a number of its own, between spaces."""
    with_comma = [line for line in lines if "," in line]
    if not with_comma or steadiness(lines, SPACES)[0] < ENOUGH:
        return False
    return all(
        DECIMAL_COMMA.sub("", word).count(",") == 0 and word.count(",") <= 1
        for line in with_comma
        for word in line.split()
    )


def choose_separator(lines: Sequence[str]) -> Separator:
    """Return the separator by which most lines fall into the same number of cells.

    Parameters
    ----------
    lines : sequence of str
        The first lines that are neither blank nor comments, at least one.

    Returns
    -------
    Separator
        In order of trust: tabs, semicolons, bars, commas, runs of two or more spaces, spaces. The first by which
        six lines in ten agree; else a mark that stands at least twice in six lines in ten, however ragged the rows;
        else the one by which most agree.
    """
    marks = [mark for mark in MARKS if mark is not COMMA or not commas_are_decimal(lines)]
    for separator in marks:
        if steadiness(lines, separator)[0] >= ENOUGH:
            return separator
    for separator in marks:
        if share_with(lines, separator, 3) >= ENOUGH:
            return separator
    for separator in (WIDE, SPACES):
        if steadiness(lines, separator)[0] >= ENOUGH:
            return separator
    if len(WIDE(lines[0])) >= 3 and share_with(lines, WIDE, 2) >= ENOUGH:
        return WIDE
    return max((*marks, WIDE, SPACES), key=lambda separator: steadiness(lines, separator)[0])
