"""Rod lists: set-ups tied together, closing readings, shots with their positions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from books import Cell, rod_list
from spadework.errors import InputError, MisclosureError
from spadework.levels import ReducedLevels, level_book_from_rods, reduce_rod_list, tolerance_rule
from spadework.shots import Shots

Row = tuple[str, str, Cell, Cell, Cell]
BLANK = None
# Made up: two set-ups joined by TP1, closing on BM 4 mm low.
TWO: list[Row] = [
    ("S1", "BM", BLANK, BLANK, 1.000),
    ("S1", "1", 0.0, 0.0, 1.500),
    ("S1", "2", 4.0, 0.0, 1.250),
    ("S1", "TP1", BLANK, BLANK, 0.800),
    ("S2", "TP1", BLANK, BLANK, 1.600),
    ("S2", "3", 0.0, 5.0, 1.750),
    ("S2", "BM", BLANK, BLANK, 1.804),
]


def reduce(rows: list[Row], known: dict[str, float] | None = None, **options: object) -> tuple[Shots, ReducedLevels]:
    """The list reduced by the usual rule."""
    given = {"BM": 100.0} if known is None else known
    return reduce_rod_list(rod_list(rows), given, tolerance=tolerance_rule(), **options)  # type: ignore[arg-type]


def test_book_when_made_from_two_set_ups() -> None:
    """Backsight on the bench mark, foresight and backsight on the shared point in one row, foresight on the closing."""
    book = level_book_from_rods(rod_list(TWO), {"bm": 100.0})
    assert book.point == ("BM", "1", "2", "TP1", "3", "BM")
    assert book.backsight == pytest.approx([1.0, np.nan, np.nan, 1.6, np.nan, np.nan], nan_ok=True)
    assert book.intermediate == pytest.approx([np.nan, 1.5, 1.25, np.nan, 1.75, np.nan], nan_ok=True)
    assert book.foresight == pytest.approx([np.nan, np.nan, np.nan, 0.8, np.nan, 1.804], nan_ok=True)
    assert book.line.tolist() == [2, 3, 4, 5, 7, 8]


def test_shots_when_a_rod_list_is_reduced() -> None:
    """4 mm low over two set-ups: +2 mm for the first, +4 mm for the second; positions stay with their levels."""
    shots, levels = reduce(TWO)
    assert levels.runs[0].misclosure == pytest.approx(-0.004)
    assert shots.point == ("1", "2", "3")
    assert shots.east == pytest.approx([0, 4, 0])
    assert shots.north == pytest.approx([0, 0, 5])
    assert shots.level == pytest.approx([99.502, 99.752, 100.054])
    assert shots.line.tolist() == [3, 4, 7]
    assert "BM, TP1 have a level but no position: no shot of the ground." in levels.notices


def test_shot_of_the_tie_when_it_has_a_position() -> None:
    """A turning point with a position is one shot, wherever that position was written."""
    rows = list(TWO)
    rows[4] = ("S2", "tp1", 8.0, 8.0, 1.600)
    shots, _ = reduce(rows)
    assert shots.point == ("1", "2", "TP1", "3")
    assert (shots.east[2], shots.north[2]) == (8.0, 8.0)
    assert shots.level[2] == pytest.approx(100.202)


def test_place_only_when_there_is_no_rod() -> None:
    """A row with a position and no rod reading marks a place and has no level."""
    shots, _ = reduce([*TWO, ("", "fence", 9.0, 9.0, BLANK)])
    assert shots.point[-1] == "fence"
    assert np.isnan(shots.level[-1])


def test_place_and_rod_when_written_in_two_rows() -> None:
    """A place without a reading and a reading without a place make one shot."""
    shots, _ = reduce(
        [("", "2", 4.5, 1.0, BLANK), *[(s, n, None, None, r) if n == "2" else (s, n, e, o, r) for s, n, e, o, r in TWO]]
    )
    row = shots.rows("2")[0]
    assert len(shots.rows("2")) == 1
    assert (shots.east[row], shots.level[row]) == pytest.approx((4.5, 99.752))


def test_set_ups_when_the_bench_mark_is_read_from_a_later_one() -> None:
    """The set-up that reads the bench mark comes first in the book, wherever it stands in the list."""
    rows: list[Row] = [
        ("S1", "1", 0.0, 0.0, 1.500),
        ("S1", "TP1", BLANK, BLANK, 0.800),
        ("S2", "TP1", BLANK, BLANK, 1.600),
        ("S2", "BM", BLANK, BLANK, 1.800),
    ]
    shots, levels = reduce(rows)
    assert shots.level == pytest.approx([100 + 1.8 - 1.6 + 0.8 - 1.5])
    assert not levels.closed


def test_star_of_set_ups_when_all_hang_on_the_first() -> None:
    """Two set-ups may each hang on a different point of the first."""
    rows: list[Row] = [
        ("A", "BM", BLANK, BLANK, 1.0),
        ("A", "P", 1.0, 1.0, 1.5),
        ("A", "Q", 2.0, 1.0, 1.2),
        ("B", "P", 1.0, 1.0, 0.9),
        ("B", "b", 3.0, 1.0, 1.0),
        ("C", "Q", 2.0, 1.0, 0.7),
        ("C", "c", 4.0, 1.0, 1.0),
    ]
    shots, levels = reduce(rows)
    assert dict(zip(shots.point, shots.level.tolist(), strict=True)) == pytest.approx(
        {"P": 99.5, "Q": 99.8, "b": 99.4, "c": 99.5}
    )
    assert levels.checks.agrees


def test_reading_back_when_one_set_up_ends_on_its_bench_mark() -> None:
    """A second reading on the bench mark from the same standing closes it."""
    shots, levels = reduce([*TWO[:3], ("S1", "BM", BLANK, BLANK, 1.002)])
    assert levels.runs[0].kind == "closed"
    assert levels.runs[0].misclosure == pytest.approx(-0.002)
    assert shots.level == pytest.approx([99.502, 99.752])


def test_set_up_tied_to_nothing_when_reduced() -> None:
    """The set-up, its lines, and what to read are named; every such set-up at once."""
    rows = [*TWO, ("S3", "x1", 1.0, 1.0, 1.0), ("S3", "x2", 2.0, 1.0, 1.0), ("S4", "TPl", 3.0, 1.0, 1.0)]
    with pytest.raises(InputError) as caught:
        reduce(rows)
    first, second = (str(fault) for fault in caught.value.faults)
    assert "set-up S3 (lines 9 to 10, 2 readings) is tied to nothing" in first
    assert "Read the bench mark or a turning point of an earlier set-up" in first
    assert "set-up S4" in second
    assert "Did you mean 'TP1'?" in second


def test_no_bench_mark_when_none_is_read() -> None:
    """Without any known point the list has no datum."""
    with pytest.raises(
        InputError, match=r"no point of the rod list rods\.csv has a known level: BM9 is not read in it"
    ):
        reduce(TWO, {"BM9": 1.0})


def test_reading_beyond_the_rod_when_in_a_list() -> None:
    """The line of the list is named, and what was meant."""
    rows = list(TWO)
    rows[4] = ("S2", "TP1", BLANK, BLANK, 16.0)
    with pytest.raises(InputError, match=r"rods.csv line 6, column rod: rod reading 16.000 m .* Did you mean 1.600"):
        reduce(rows)


def test_one_name_at_two_places_when_in_two_set_ups() -> None:
    """Names that begin again at 1 in each set-up are different points: no tie, no check, both shots kept, and said."""
    rows = [*TWO[:5], ("S2", "1", 20.0, 20.0, 1.750), TWO[6]]
    shots, levels = reduce(rows)
    assert len(shots.rows("1")) == 2
    assert not levels.failing
    assert any("One name at several places" in notice and "1 (lines 3, 7)" in notice for notice in levels.notices)


def test_a_tie_is_refused_when_its_name_has_two_places() -> None:
    """A name that stands at two places cannot say which of them a second set-up read."""
    rows: list[Row] = [
        ("S1", "BM", BLANK, BLANK, 1.0),
        ("S1", "1", 0.0, 0.0, 1.5),
        ("S1", "1", 9.0, 0.0, 1.6),
        ("S2", "1", BLANK, BLANK, 1.2),
        ("S2", "2", 4.0, 4.0, 1.3),
    ]
    with pytest.raises(InputError, match=r"set-up S2 .* is tied to nothing"):
        reduce(rows)


def test_bench_mark_at_two_places_when_reduced() -> None:
    """A known point cannot stand at two places."""
    rows: list[Row] = [("S1", "BM", 0.0, 0.0, 1.0), ("S1", "a", 1.0, 1.0, 1.0), ("S1", "BM", 30.0, 0.0, 1.0)]
    with pytest.raises(InputError, match=r"line 4.*BM stands at 2 places up to 30.000 m apart"):
        reduce(rows)


def test_half_a_position_when_north_is_missing() -> None:
    """An east without a north is a fault, not a point off the plan."""
    with pytest.raises(InputError, match="1 has no north"):
        reduce([TWO[0], ("S1", "1", 4.0, BLANK, 1.0)])


def test_two_positions_when_a_point_was_taped_twice() -> None:
    """A few centimetres between two tapings of one point are said; the first counts."""
    rows = list(TWO)
    rows[3] = ("S1", "TP1", 8.0, 8.0, 0.800)
    rows[4] = ("S2", "TP1", 8.1, 8.0, 1.600)
    shots, levels = reduce(rows)
    assert shots.east[shots.rows("TP1")[0]] == 8.0
    assert any(
        "two positions, of which the first is used: TP1 (lines 5, 6), 0.100 m apart" in notice
        for notice in levels.notices
    )


def test_same_point_twice_from_one_set_up_when_reduced() -> None:
    """Both readings stay, so that the ground can say whether they agree; what was noted beside one is its own."""
    rods = rod_list([*TWO, ("S2", "3", 0.0, 5.0, 1.790)])
    rods = replace(rods, note=("",) * len(TWO) + ("again",))
    shots, _ = reduce_rod_list(rods, {"BM": 100.0}, tolerance=tolerance_rule())
    assert [shots.note[row] for row in shots.rows("3")] == ["", "again"]


def test_note_is_kept_when_its_row_is_joined_to_an_earlier_one() -> None:
    """TP1 is one shot, read from two set-ups: it takes the remark that stands beside its second reading."""
    rows = [*TWO[:3], ("S1", "TP1", 2.0, 2.0, 0.800), *TWO[4:]]
    rods = replace(rod_list(rows), note=("", "", "", "", "boulder", "", ""))
    shots, _ = reduce_rod_list(rods, {"BM": 100.0}, tolerance=tolerance_rule())
    assert shots.note[shots.rows("TP1")[0]] == "boulder"


def test_rows_apart_when_a_set_up_is_interrupted() -> None:
    """Rows of one set-up that do not stand together are taken as one standing, and that is said."""
    rows = [TWO[0], TWO[1], TWO[4], TWO[5], TWO[2], TWO[3], TWO[6]]
    _, levels = reduce(rows)
    assert any("do not stand together" in notice for notice in levels.notices)


def test_misclosure_when_a_list_does_not_close() -> None:
    """The same explanation as for a book, with lines of the list."""
    rows = [*TWO[:6], ("S2", "BM", BLANK, BLANK, 1.904)]
    with pytest.raises(MisclosureError, match=r"rods.csv lines 2 to 8.*-0.104 m"):
        reduce(rows)
    _, levels = reduce(rows, allow_misclosure=True)
    assert levels.overridden


def test_no_rod_at_all_when_reduced() -> None:
    """A list without a reading asks for its column."""
    with pytest.raises(InputError, match="has no rod reading"):
        reduce([("S1", "a", 1.0, 1.0, BLANK)])
