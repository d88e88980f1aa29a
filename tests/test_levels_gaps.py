"""Gaps of a level book: each named with its line and its remedy, all at once."""

from __future__ import annotations

import numpy as np
import pytest

from books import FOOT, level_book, reduced
from spadework.errors import InputError

Rows = list[tuple[str, float | None, float | None, float | None]]


def faults(rows: Rows, known: dict[str, float] | None = None, **options: object) -> list[str]:
    """Every fault that a book is refused with."""
    with pytest.raises(InputError) as caught:
        reduced(level_book(rows), {"BM": 10.0} if known is None else known, **options)
    assert caught.value.exit_status == 2
    return [str(fault) for fault in caught.value.faults]


def test_no_backsight_when_the_book_begins() -> None:
    """A first row without a backsight is told once for all rows that hang on it."""
    told = faults([("BM", None, 1.0, None), ("a", None, 1.1, None), ("b", None, 1.2, None)])
    assert len(told) == 1
    assert "book.csv line 2, column IS" in told[0]
    assert "lines 2 to 4 hang in the air" in told[0]
    assert "Write the first reading under BS" in told[0]


def test_sights_after_a_foresight_when_no_backsight_follows() -> None:
    """After a foresight the instrument has moved: what follows needs a backsight."""
    told = faults([("BM", 1.0, None, None), ("T", None, None, 1.2), ("a", None, 1.3, None), ("b", None, None, 1.4)])
    assert len(told) == 1
    assert "line 4" in told[0]
    assert "the foresight on T (line 3) ended the one before" in told[0]
    assert "Add the backsight on T" in told[0]


def test_two_backsights_when_no_foresight_is_between() -> None:
    """A backsight on a point that nothing gives a level to names the missing foresight and the backsight before."""
    told = faults([("BM", 1.0, None, None), ("T", 1.2, None, None), ("a", None, 1.3, None)])
    assert len(told) == 1
    assert "line 3, column BS" in told[0]
    assert "set up again on T" in told[0]
    assert "line 2" in told[0]
    assert "Write the foresight on T in the same line" in told[0]


def test_a_misspelt_turning_point_when_set_up_on() -> None:
    """The nearest name that was sighted is asked about."""
    told = faults(
        [("BM", 1.0, None, None), ("Peg 7", None, 1.2, None), ("Peg7", 1.3, None, None), ("a", None, 1.0, None)]
    )
    assert "Did you mean 'Peg 7'?" in told[0]


def test_intermediate_beside_another_reading_when_in_one_row() -> None:
    """IS with FS, and IS with BS, are each refused with what to do."""
    told = faults([("BM", 1.0, None, None), ("a", None, 1.1, 1.2), ("BM", 1.0, None, None), ("b", 1.0, 1.1, None)])
    assert "an intermediate sight and a foresight" in told[0]
    assert "an intermediate sight and a backsight" in told[1]
    assert "Write that reading under FS" in told[1]


def test_no_known_level_when_nothing_is_given() -> None:
    """No datum: the first point is offered for one."""
    assert "BM = 100 for example" in faults([("BM", 1.0, None, None), ("a", None, 1.2, None)], {})[0]


def test_an_unknown_beginning_when_nothing_ties_it_to_a_bench_mark() -> None:
    """Set-ups before the bench mark that never read it hang in the air: their lines, and what would help."""
    told = faults([("P", 1.0, None, None), ("a", None, 1.2, None), ("BM", 1.0, None, None), ("b", None, 1.0, None)])
    assert len(told) == 1
    assert "line 2, column BS: the level of P is not known" in told[0]
    assert "(lines 2 to 3)" in told[0]


def test_no_known_level_when_the_name_is_misspelt() -> None:
    """A known level for a name near one of the book's asks whether that was meant."""
    told = faults([("BM1", 1.0, None, None), ("a", None, 1.2, None)], {"BM 1": 10.0})
    assert "BM 1 is not read in it" in told[0]
    assert "Did you mean 'BM1'?" in told[0]


def test_two_levels_when_one_mark_has_them() -> None:
    """Two rows of the book that give one mark different levels are refused, with both."""
    book = level_book(
        [("BM", 1.0, None, None), ("a", None, 1.2, None), ("bm", None, None, 1.0)], known=[10.0, None, 10.1]
    )
    with pytest.raises(
        InputError, match=r"line 4, column known: bm has the known level 10.100 m here and 10.000 m in line 2"
    ):
        reduced(book, {})


def test_two_levels_when_the_book_and_the_job_differ() -> None:
    """The book's own level against one given besides."""
    book = level_book([("BM", 1.0, None, None), ("a", None, 1.2, None)], known=[10.0, None])
    with pytest.raises(InputError, match=r"10\.000 m here and 12\.000 m in the levels given for this job"):
        reduced(book, {"BM": 12.0})


def test_two_levels_when_names_given_differ_only_by_case() -> None:
    """Names compare without regard to case, so these are two levels for one mark."""
    told = faults([("BM", 1.0, None, None), ("a", None, 1.2, None)], {"BM": 10.0, "bm": 11.0})
    assert "both 10.000 m and 11.000 m" in told[0]


def test_same_level_twice_when_given_twice() -> None:
    """One level written in two places is no conflict."""
    book = level_book([("BM", 1.0, None, None), ("a", None, 1.2, None)], known=[10.0, None])
    assert reduced(book, {"bm": 10.0}).level_of("a") == pytest.approx(9.8)


@pytest.mark.parametrize(
    ("reading", "meant"), [(41.10, "4.110"), (1432.0, "1.432"), (143.2, "1.432"), (-14.2, "-1.420")]
)
def test_a_reading_beyond_the_rod_when_the_decimal_mark_slipped(reading: float, meant: str) -> None:
    """The same digits that make a reading of this rod are asked about."""
    told = faults([("BM", 1.0, None, None), ("a", None, reading, None)])
    assert f"intermediate sight {reading:.3f} m is outside the rod" in told[0]
    assert "between 0 and 5.000 m" in told[0]
    assert f"Did you mean {meant}?" in told[0]
    assert "rod-length" in told[0]


def test_a_long_rod_when_its_length_is_given() -> None:
    """A 25 ft rod reads 22 ft, and says feet when it does not."""
    rows: Rows = [("BM", 22.0, None, None), ("a", None, 20.0, None)]
    book = level_book(rows, unit=FOOT, step=0.01)
    with pytest.raises(
        InputError, match=r"backsight 22.00 ft is outside the rod.*between 0 and 16.40 ft. Did you mean 2.20"
    ):
        reduced(book, {"BM": 0.0})
    assert reduced(book, {"BM": 0.0}, rod_length=25 * FOOT).level_of("a") == pytest.approx(2 * FOOT)


def test_all_faults_when_there_are_several() -> None:
    """Everything that is wrong is told in one go, in the order of the lines."""
    told = faults(
        [
            ("BM", 1.0, None, None),
            ("a", None, 61.0, None),
            ("T", 1.2, None, None),
            ("b", None, 1.0, 1.3),
            ("U", None, None, 1.0),
        ]
    )
    assert [text.split(",")[0] for text in told] == [f"book.csv line {line}" for line in (3, 4, 5, 6)]


def test_no_reading_when_the_columns_are_empty() -> None:
    """A book without any reading asks whether its columns were recognised."""
    assert "Check that the columns BS, IS and FS were recognised" in faults([("BM", None, None, None)])[0]


def test_nameless_points_when_sighted() -> None:
    """Rows without a name are points of their own and never matched to each other."""
    levels = reduced(level_book([("BM", 1.0, None, None), ("", None, 1.2, None), ("", None, 1.5, None)]), {"BM": 10.0})
    assert levels.level[1:] == pytest.approx([9.8, 9.5])
    assert not levels.suspects
    told = faults([("BM", 1.0, None, None), ("", None, 1.2, None), ("", 1.5, None, None), ("x", None, 1.0, None)])
    assert "set up again on this point" in told[0]


def test_known_column_when_a_nameless_row_has_it() -> None:
    """A level beside a row without a name belongs to that row alone."""
    book = level_book([("", 1.0, None, None), ("", None, 1.25, None)], known=[10.0, None])
    assert reduced(book, {}).level == pytest.approx([10.0, 9.75])
    assert np.isfinite(reduced(book, {}).level).all()
