"""What looks wrong in a book that can be reduced."""

from __future__ import annotations

import pytest

from books import FOOT, Cell, level_book, reduced

# Made up: one set-up, then a turning point, then back.
BOOK: list[tuple[str, Cell, Cell, Cell]] = [
    ("BM", 1.512, None, None),
    ("a", None, 1.304, None),
    ("b", None, 1.777, None),
    ("TP1", 1.374, None, 2.185),
    ("c", None, 1.500, None),
    ("BM", None, None, 0.701),
]
LEVELS: list[Cell] = [100.0, 100.208, 99.735, 99.327, 99.201, 100.0]
RISES: list[Cell] = [None, 0.208, None, None, None, 0.799]
FALLS: list[Cell] = [None, None, 0.473, 0.408, 0.126, None]
INSTRUMENTS: list[Cell] = [101.512, None, None, 100.701, None, None]
ALL = {"printed": LEVELS, "printed_rise": RISES, "printed_fall": FALLS, "printed_hi": INSTRUMENTS}


def suspects(**changed: list[Cell]) -> tuple[str, ...]:
    """Doubts about the book with some printed columns changed."""
    return reduced(level_book(BOOK, printed={**ALL, **changed}), {"BM": 100.0}).suspects


def with_one(cells: list[Cell], row: int, value: Cell) -> list[Cell]:
    """A column with one figure changed."""
    return [value if place == row else cell for place, cell in enumerate(cells)]


def test_no_doubt_when_everything_printed_is_right() -> None:
    """A book whose printed figures follow from its readings raises no doubt."""
    assert suspects() == ()


def test_no_doubt_when_printed_to_fewer_decimals() -> None:
    """Levels printed to the centimetre are right to half a centimetre."""
    assert suspects(printed=[100.0, 100.21, 99.74, 99.33, 99.20, 100.0]) == ()


def test_one_printed_level_when_it_is_wrong() -> None:
    """Two digits exchanged in one level: its line, both figures, and that the next ones are right."""
    (told,) = suspects(printed=with_one(LEVELS, 2, 99.375))
    assert told.startswith("line 4: b is printed as 99.375 m, but the readings give 99.735 m: 0.360 m too low")
    assert "right again" in told


def test_all_later_levels_when_one_slip_is_carried_on() -> None:
    """A slip that every later level carries is told once, where it happened."""
    (told,) = suspects(printed=[100.0, 100.208, 99.835, 99.427, 99.301, 100.1])
    assert told.startswith("lines 4 to 7: b is printed as 99.835 m")
    assert "the slip is at b" in told


def test_printed_fall_when_it_is_wrong() -> None:
    """The two readings and the right fall are shown."""
    (told,) = suspects(printed_fall=with_one(FALLS, 2, 0.437))
    assert told.startswith(
        "line 4: the fall to b is printed as 0.437, but the readings 1.304 and 1.777 give a fall of 0.473"
    )


def test_printed_rise_when_it_stands_in_the_column_of_falls() -> None:
    """A figure in the wrong one of the two columns."""
    (told,) = suspects(printed_rise=with_one(RISES, 1, None), printed_fall=with_one(FALLS, 1, 0.208))
    assert told.startswith("line 3: 0.208 at a is printed as a fall, but from 1.512 to 1.304 the ground has a rise")


def test_reading_behind_when_printed_figures_agree_with_each_other() -> None:
    """If fall and level fit each other but not the readings, the reading was written differently from what was used."""
    told = suspects(printed=[100.0, 100.209, 99.735, 99.327, 99.201, 100.0], printed_rise=with_one(RISES, 1, 0.209))
    assert any("so look at the reading" in text for text in told)


def test_printed_height_of_instrument_when_it_is_wrong() -> None:
    """Line, printed figure, right one."""
    (told,) = suspects(printed_hi=with_one(INSTRUMENTS, 3, 100.071))
    assert told.startswith(
        "line 5: the height of instrument at TP1 is printed as 100.071 m, "
        "but the readings give 100.701 m: 0.630 m too low"
    )


def test_adjusted_levels_when_those_are_printed() -> None:
    """A book may print its levels after adjustment: then those are compared."""
    rows = [*BOOK[:-1], ("BM", None, None, 0.697)]
    adjusted: list[Cell] = [100.0, 100.206, 99.733, 99.325, 99.197, 100.0]
    assert reduced(level_book(rows, printed={"printed": adjusted}), {"BM": 100.0}).suspects == ()
    wrong = with_one(adjusted, 1, 100.026)
    (told,) = reduced(level_book(rows, printed={"printed": wrong}), {"BM": 100.0}).suspects
    assert told.startswith("line 3: a is printed as 100.026 m, but the readings give 100.206 m")


def test_copied_reading_when_the_next_backsight_repeats_it() -> None:
    """The same figure twice in a row at a change of set-up is asked about, in one row or in two."""
    rows = [*BOOK[:3], ("TP1", 2.185, None, 2.185), ("c", None, 1.5, None)]
    (told,) = reduced(level_book(rows), {"BM": 100.0}).suspects
    assert told.startswith("line 5: the FS 2.185 on TP1 and the backsight 2.185 on TP1 after it are the same figure")
    rows = [*BOOK[:3], ("BM", 1.777, None, None), ("c", None, 1.5, None)]
    (told,) = reduced(level_book(rows), {"BM": 100.0}).suspects
    assert told.startswith("lines 4 to 5: the IS 1.777 on b and the backsight 1.777 on BM")


def test_no_doubt_when_few_digits_make_a_coincidence() -> None:
    """Readings to the decimetre agree by chance: nothing is said."""
    rows: list[tuple[str, Cell, Cell, Cell]] = [("BM", 1.5, None, None), ("TP", 2.1, None, 2.1), ("c", None, 1.5, None)]
    assert reduced(level_book(rows, step=0.1), {"BM": 100.0}).suspects == ()


def test_point_with_two_levels_when_the_name_comes_twice() -> None:
    """One name and two levels: either a slip or two points, and the book cannot tell, so it asks."""
    rows = [*BOOK[:5], ("a", None, 1.100, None), BOOK[5]]
    told = reduced(level_book(rows), {"BM": 100.0}).suspects
    assert any("lines 3 and 7: a was levelled twice, 100.208 m and 99.601 m" in text for text in told)


def test_no_doubt_when_turning_points_share_a_generic_name() -> None:
    """TP and TP are two turning points, not one with two levels."""
    rows: list[tuple[str, Cell, Cell, Cell]] = [
        ("BM", 1.0, None, None),
        ("TP", 1.1, None, 2.0),
        ("TP", 1.2, None, 2.4),
        ("BM", None, None, -1.1),
    ]
    assert reduced(level_book(rows), {"BM": 10.0}).suspects == ()


def shots(readings: list[float]) -> list[tuple[str, Cell, Cell, Cell]]:
    """A book of shots from one set-up."""
    return [("BM", 1.5, None, None), *((f"p{i}", None, reading, None) for i, reading in enumerate(readings))]


def test_shot_far_from_the_others_when_one_is_misread() -> None:
    """A decimetre ground with one shot a metre off: that line is asked about."""
    readings = [1.30, 1.42, 1.35, 1.51, 1.47, 1.38, 2.44, 1.40, 1.33, 1.45]
    (told,) = reduced(level_book(shots(readings)), {"BM": 10.0}).suspects
    assert told.startswith("line 9: p6 comes out at 9.060 m")
    assert "was the reading 2.440 written down right?" in told


@pytest.mark.parametrize(
    "readings",
    [
        [0.3 + 0.2 * i for i in range(12)],
        [1.30, 1.42, 1.35, 1.51, 1.47, 1.38, 2.44, 2.40, 2.43, 1.45],
        [1.30, 2.90],
        [1.5] * 12,
    ],
    ids=["slope", "bank", "few", "flat"],
)
def test_no_doubt_when_the_ground_is_so(readings: list[float]) -> None:
    """An even slope, a bank that several shots lie on, two shots, flat ground: nothing to ask."""
    assert reduced(level_book(shots(readings)), {"BM": 10.0}).suspects == ()


def test_many_doubts_when_a_book_is_full_of_them() -> None:
    """Twenty of a kind are told, and how many more."""
    rows: list[tuple[str, Cell, Cell, Cell]] = [("BM", 1.234, None, None)]
    rows += [(f"T{i}", 1.0 + i / 100, None, 1.0 + i / 100) for i in range(30)]
    told = reduced(level_book(rows), {"BM": 10.0}).suspects
    assert len(told) == 21
    assert told[-1] == "... and 10 more of that kind."


def test_doubts_are_in_feet_when_the_book_is() -> None:
    """Decimal feet stay decimal feet."""
    rows: list[tuple[str, Cell, Cell, Cell]] = [("BM", 4.32, None, None), ("a", None, 5.21, None)]
    book = level_book(rows, unit=FOOT, step=0.01, printed={"printed": [100.0, 99.21]})
    (told,) = reduced(book, {"BM": 100 * FOOT}).suspects
    assert told.startswith("line 3: a is printed as 99.21 ft, but the readings give 99.11 ft: 0.10 ft too high")
