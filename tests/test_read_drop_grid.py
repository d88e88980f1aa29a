"""Drop grids as text."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.read import Recognised, read_text
from spadework.readings import DropGrid
from spadework.units import LengthUnit

INCH = 0.0254
DROPS = [[31.5, 32.0], [42.5, -3.0], [24.0, 36.125]]
FEET = [["2' 7 1/2\"", "2' 8\""], ["3' 6 1/2\"", "-0' 3\""], ["2'", "3' 0 1/8\""]]


def grid_of(text: str, units: LengthUnit | None = None, kind: str | None = None) -> tuple[DropGrid, Recognised]:
    """Read a text that must be a drop grid."""
    recognised = read_text(text, units=units, kind=kind)
    assert isinstance(recognised.reading, DropGrid)
    return recognised.reading, recognised


def block(separator: str, corner: str) -> str:
    """Write the drops as a block."""
    rows = [[corner, "0'", "5' 6\""], *([f"{4 * row}'", *cells] for row, cells in enumerate(FEET))]
    return "\n".join(separator.join(row) for row in rows)


@pytest.mark.parametrize(
    "separator", ["\t", ", ", " | ", "   ", "; "], ids=["tab", "comma", "bar", "spaces", "semicolon"]
)
@pytest.mark.parametrize("corner", ["drop", "along \\ across", ""], ids=["word", "two words", "empty"])
def test_feet_and_inches_are_read_when_pasted(separator: str, corner: str) -> None:
    """Cells with inner spaces arrive whole with any separator; the corner may be empty."""
    grid, recognised = grid_of(block(separator, corner))
    np.testing.assert_allclose(grid.drop, np.array(DROPS) * INCH, rtol=1e-14)
    np.testing.assert_allclose(grid.across, [0, 66 * INCH], rtol=1e-14)
    np.testing.assert_allclose(grid.along, [0, 48 * INCH, 96 * INCH], rtol=1e-14)
    assert grid.reading_resolution == pytest.approx(INCH / 8)
    assert recognised.sentence == "read as drop-grid: 3 rows of 2 drops, feet and inches"
    assert list(grid.line) == [2, 3, 4]


@pytest.mark.parametrize(
    ("corner", "across", "drop"),
    [
        ("drop (in)", 4 * 0.0254, 3.5 * 0.0254),
        ("across along (ft), drop (in)", 4 * 0.3048, 3.5 * 0.0254),
        ("distances in m; drops in mm", 4.0, 0.0035),
        ("(cm)", 0.04, 0.035),
    ],
)
def test_units_are_those_of_the_corner_when_it_names_them(corner: str, across: float, drop: float) -> None:
    """One unit in the corner is for all, two are for distances and drops."""
    grid, _ = grid_of(f"{corner}\t0\t4\n0\t3.5\t3.5\n4\t3.5\t3.5\n")
    assert grid.across[1] == pytest.approx(across, rel=1e-14)
    assert grid.along[1] == pytest.approx(across, rel=1e-14)
    assert grid.drop[1, 1] == pytest.approx(drop, rel=1e-14)


@pytest.mark.parametrize("empty", ["-", "", "n/a", "–"], ids=["dash", "nothing", "words", "long dash"])
def test_cell_is_not_a_number_when_nothing_was_measured(empty: str) -> None:
    """An empty cell is a drop that was not measured; how many is said."""
    grid, recognised = grid_of(f"drop,0,1\n0,0.5,{empty}\n1,0.6,0.7\n", LengthUnit.METRE)
    assert np.isnan(grid.drop[0, 1])
    assert "1 not measured" in recognised.sentence


def test_grid_is_read_when_the_corner_is_left_out() -> None:
    """A first row that is one cell shorter than the rest has no corner."""
    grid, _ = grid_of("0 1 2\n0 0.5 0.6 0.7\n1 0.6 0.7 0.8\n", LengthUnit.METRE)
    assert grid.drop.shape == (2, 3)


def test_distances_may_go_down_when_the_sheet_has_north_up() -> None:
    """Distances may fall all the way, as on a sheet drawn with the far side on top."""
    grid, _ = grid_of("drop,0,1\n4,0.5,0.6\n2,0.6,0.7\n0,0.6,0.7\n", LengthUnit.METRE)
    np.testing.assert_array_equal(grid.along, [4, 2, 0])


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("drop,0,1\n0,0.5,0.6\n0,0.6,0.7\n", 3, "0 comes after 0"),
        ("drop,0,1,\n0,0.5,0.6,0.7\n", 2, "3 drops"),
        ("drop,0,1\n0,0.5,0.6\n,0.6,0.7\n", 3, "no distance along"),
        ("drop,0,1\n0,-,-\n1,-,-\n", 1, "no drop"),
        ("drop,0,1\n0,0.5,0.6\n1,deep,0.7\n", 3, "deep"),
    ],
    ids=["twice", "extra cell", "no distance", "nothing", "word"],
)
def test_grid_is_refused_when_it_is_not_square(text: str, line: int, word: str) -> None:
    """What is no grid is refused with its line."""
    with pytest.raises(InputError, match=word) as raised:
        grid_of(text, LengthUnit.METRE)
    assert raised.value.faults[0].source.line == line


def test_block_of_numbers_is_asked_about_when_its_corner_is_a_number() -> None:
    """A block of numbers with a number in its corner could be a grid or points: it is refused, whatever is insisted."""
    text = "0,1,2\n0,0.5,0.6\n1,0.6,0.7\n"
    with pytest.raises(InputError, match="no row of headings"):
        read_text(text, units=LengthUnit.METRE)
    with pytest.raises(InputError, match="Leave the corner cell empty"):
        read_text(text, units=LengthUnit.METRE, kind="drop-grid")


def test_feet_or_inches_is_asked_when_numbers_are_bare() -> None:
    """Among feet and inches a bare number could be either."""
    with pytest.raises(InputError, match="feet, or inches") as raised:
        grid_of("drop,0,4\n0,3,4\n4,5,6\n", LengthUnit.FOOT_INCH)
    assert {fault.source.line for fault in raised.value.faults} == {1, 2, 3}


def test_remedy_is_said_when_single_spaces_cut_feet_from_inches() -> None:
    """Between single spaces ``0' 7 1/2"`` could be one cell or two: it is refused, and told how to separate cells."""
    with pytest.raises(InputError, match="separate cells by tabs, bars or two spaces"):
        read_text("0' 4'\n0' 0' 7 1/2\" 0' 9\"\n4' 0' 8\" 1' 2\"\n", units=LengthUnit.FOOT_INCH)
