"""Level books as text."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.read import Recognised, read_text
from spadework.readings import LevelBook
from spadework.units import LengthUnit

# Universiti Sains Malaysia, School of Civil Engineering, on-line levelling course, solution page JSSUAE1,
# https://civil.eng.usm.my/wamin/lecture1/FYPGeomatik/JS/Ukur%20Aras/JSSUAE1.htm
COLLIMATION = """point,BS,IS,FS,HPC,RL_initial,adj_mm
OBM1,1.717,,,30.947,29.230,0
A,,1.432,,,29.515,-2
B_CP,2.918,,1.716,32.149,29.231,-2
C,,2.272,,,29.877,-4
D_CP,0.816,,0.953,32.012,31.196,-4
E_CP,1.436,,3.005,30.443,29.007,-6
CP,1.246,,1.391,30.298,29.052,-8
F,,1.353,,,28.945,-10
G,,1.462,,,28.836,-10
OBM2,,,0.628,,29.670,-10
"""
# "Profile leveling, handout 9", https://www.scribd.com/document/624270023; pasted with runs of spaces.
PROFILE = """station   BS     IFS    FS     HI
BMa       0.95                 126.45
0+00             3.0
0+10             2.3
TP1       3.13          0.64   128.94
0+22             2.7
BMb                     1.99
"""


def book_of(text: str, units: LengthUnit | None = LengthUnit.METRE) -> tuple[LevelBook, Recognised]:
    """Read a text that must be a level book."""
    recognised = read_text(text, units=units)
    assert isinstance(recognised.reading, LevelBook)
    return recognised.reading, recognised


def test_sums_are_those_printed_when_a_published_book_is_read() -> None:
    """Sums of backsights 8.133 and of foresights 7.693, as the page prints them; five set-ups."""
    book, recognised = book_of(COLLIMATION)
    assert np.nansum(book.backsight) == pytest.approx(8.133, abs=0.0005)
    assert np.nansum(book.foresight) == pytest.approx(7.693, abs=0.0005)
    assert book.reading_resolution == pytest.approx(0.001)
    assert recognised.sentence.startswith("read as level-book: 10 rows, 5 set-ups, metres")
    assert recognised.notes == ("1 column not used: adj_mm",)
    assert list(book.line) == list(range(2, 12))


def test_first_printed_level_is_known_when_no_column_gives_levels() -> None:
    """A book starts from a given level: the one printed on the row of the first backsight; this is said."""
    book, recognised = book_of(COLLIMATION)
    assert book.known[0] == 29.23
    assert np.isnan(book.known[1:]).all()
    assert book.printed is not None
    assert book.printed[-1] == 29.67
    assert "OBM1 known as 29.230" in recognised.sentence


def test_printed_levels_are_only_compared_when_a_column_gives_known_levels() -> None:
    """With a column of known levels the printed ones are not taken for known."""
    book, recognised = book_of("point,BS,FS,RL,known\nA,1.2,,9.9,\nB,,1.3,9.8,10.0\n")
    assert np.isnan(book.known[0])
    assert book.known[1] == 10.0
    assert "known as" not in recognised.sentence


def test_empty_cells_are_told_by_alignment_when_spaces_separate() -> None:
    """Under headings set apart by spaces each number belongs to the heading it stands under."""
    book, recognised = book_of(PROFILE)
    nan = np.nan
    np.testing.assert_array_equal(book.backsight, [0.95, nan, nan, 3.13, nan, nan])
    np.testing.assert_array_equal(book.intermediate, [nan, 3.0, 2.3, nan, 2.7, nan])
    np.testing.assert_array_equal(book.foresight, [nan, nan, nan, 0.64, nan, 1.99])
    assert book.point == ("BMa", "0+00", "0+10", "TP1", "0+22", "BMb")
    assert any("empty cells told by what stands under which heading" in note for note in recognised.notes)


def test_row_is_refused_when_it_stands_under_no_single_heading() -> None:
    """A number between two headings is not given to either."""
    with pytest.raises(InputError, match="line 3"):
        book_of(PROFILE.replace("0+00             3.0", "0+00         3.0"))


@pytest.mark.parametrize(
    ("total", "said"), [("Sum,8.133,,7.693,,,", "agrees"), ("Sum,8.123,,7.693,,,", "BS 8.123 is not the sum, 8.133 m")]
)
def test_totals_are_compared_when_the_book_prints_them(total: str, said: str) -> None:
    """A row of totals at the foot is no point; it is compared with the columns and the result is said."""
    book, recognised = book_of(COLLIMATION + total + "\n")
    assert len(book) == 10
    assert any("line 12 (Sum)" in note and said in note for note in recognised.notes)


def test_rise_and_fall_are_kept_when_printed() -> None:
    """Printed rises and falls are kept to be compared with what follows from the readings."""
    book, _ = book_of("point,BS,FS,rise,fall,RL\nA,1.5,,,,10\nB,1.2,1.0,0.5,,10.5\nC,,1.4,,0.2,10.3\n")
    assert book.printed_rise is not None
    assert book.printed_fall is not None
    np.testing.assert_array_equal(book.printed_rise, [np.nan, 0.5, np.nan])
    np.testing.assert_array_equal(book.printed_fall, [np.nan, np.nan, 0.2])
    assert book.printed_hi is None


def test_turning_point_may_take_two_rows_when_booked_so() -> None:
    """Foresight and next backsight on one point may stand in one row or in two."""
    book, _ = book_of("point,BS,FS\nA,1.5,\nTP,,1.0\nTP,1.2,\nB,,1.4\n")
    assert len(book) == 4


def test_feet_are_exact_when_the_heading_says_feet() -> None:
    """1 ft is 0.3048 m exactly."""
    book, recognised = book_of("point,BS (ft),FS (ft)\nBM,4.32,\nTP1,,3.87\n", units=None)
    assert book.backsight[0] == pytest.approx(4.32 * 0.3048, rel=1e-15)
    assert book.reading_resolution == pytest.approx(0.01 * 0.3048)
    assert "decimal feet" in recognised.sentence


def test_station_is_the_point_when_the_book_has_no_other_names() -> None:
    """In a level book without a column of points the stations are the names."""
    book, recognised = book_of("station,BS,FS\nA,1.5,\nB,,1.0\n")
    assert book.point == ("A", "B")
    assert recognised.columns[0].meaning == "point"


def test_long_book_is_read_whole_when_it_has_many_rows() -> None:
    """Every row of a long book arrives, in its order, with its line."""
    rows = 5000
    text = "point,BS,IS,FS\nBM,1.0,,\n" + "".join(f"P{i},,{1 + i % 997 / 1000:.3f},\n" for i in range(rows))
    book, _ = book_of(text)
    np.testing.assert_allclose(book.intermediate[1:], [1 + i % 997 / 1000 for i in range(rows)], atol=1e-12)
    np.testing.assert_array_equal(book.line, np.arange(2, rows + 3))
