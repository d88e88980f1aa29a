"""How lines fall into cells."""

from __future__ import annotations

import pytest

from spadework.errors import InputError
from spadework.read import read_text
from spadework.read.separators import choose_separator
from spadework.units import LengthUnit


@pytest.mark.parametrize(
    ("lines", "name", "cells"),
    [
        (["point,east,note", "A,1.5,oak; old"], "commas", ["A", "1.5", "oak; old"]),
        (["point;east;note", "A;1,5;oak, old"], "semicolons", ["A", "1,5", "oak, old"]),
        (["point\teast\tnote", "A\t1,5\toak, old"], "tabs", ["A", "1,5", "oak, old"]),
        (["| point | east |", "| A | 1.5 |"], "vertical bars", ["A", "1.5"]),
        (["point   east   bm level", "A   1.5   3' 6 1/2\""], "runs of spaces", ["A", "1.5", "3' 6 1/2\""]),
        (["point east (m) rod", "A 1.5 2.5"], "spaces", ["A", "1.5", "2.5"]),
        (["A 1,5 2,5", "B 1,75 2,5"], "spaces", ["B", "1,75", "2,5"]),
        (["point, east, north", "A, 1, 2"], "commas", ["A", "1", "2"]),
        (["1,2,3", "4,5,6"], "commas", ["4", "5", "6"]),
    ],
    ids=["comma", "semicolon", "tab", "bar", "wide", "spaces", "decimal comma", "comma and space", "bare numbers"],
)
def test_separator_is_found_when_lines_agree(lines: list[str], name: str, cells: list[str]) -> None:
    """The separator by which the lines agree is used, and other marks stay in the cells."""
    separator = choose_separator(lines)
    assert separator.name == name
    assert separator(lines[1]) == cells


@pytest.mark.parametrize(
    ("line", "cells"),
    [
        ("A,3' 6 1/2\",4", ["A", "3' 6 1/2\"", "4"]),
        ('A,"oak, old",4', ["A", "oak, old", "4"]),
        ('A,"3\' 6 1/2""",4', ["A", "3' 6 1/2\"", "4"]),
        ('A,",4', ["A", '"', "4"]),
        ('A,"",', ["A", "", ""]),
        ('"A","b"', ["A", "b"]),
    ],
    ids=["inches", "quoted comma", "quoted inches", "ditto mark", "quoted nothing", "all quoted"],
)
def test_quotation_marks_are_told_from_inches_when_cutting(line: str, cells: list[str]) -> None:
    """A mark that opens and closes a cell quotes it; any other one is inches or a ditto, and swallows nothing."""
    separator = choose_separator(["point,rod,x", "A,1,2"])
    assert separator(line) == cells


@pytest.mark.parametrize("mark", [",", "-,", "E,"], ids=["empty", "dashes", "headings"])
def test_line_is_refused_when_it_has_too_many_cells(mark: str) -> None:
    """A line of thousands of cells is no row of readings and is refused with its number."""
    with pytest.raises(InputError, match="at most 1,000 columns") as raised:
        read_text("point,east,north,rod\n" + mark * 20_000)
    assert raised.value.faults[0].source.line == 2


def test_headings_with_another_separator_than_their_rows_are_named() -> None:
    """Blanks above tabs: the message says which separator the rows have, and not that nothing falls into columns."""
    with pytest.raises(InputError, match=r"line 1: the headings 'point  east  north' are not parted by tabs"):
        read_text("point  east  north\nA\t0\t0\nB\t10\t0\n", units=LengthUnit.METRE)
