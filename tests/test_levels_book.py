"""Reduction of a level book: heights of instrument, rises and falls, set-ups, known points."""

from __future__ import annotations

import numpy as np
import pytest

from books import FOOT, LOOSE, level_book, reduced
from naive_levels import adjusted_by_set_ups, levels_by_hi, levels_by_rise_and_fall
from spadework.errors import InputError, MisclosureError
from spadework.levels import reduce_level_book
from spadework.units import LengthUnit

# A made-up walk around a garden: two set-ups, an intermediate each, closing where it began 4 mm high.
WALK = [
    ("BM", 1.500, None, None),
    ("gate", None, 1.250, None),
    ("TP1", 1.100, None, 1.700),
    ("steps", None, 0.900, None),
    ("BM", None, None, 0.896),
]


def test_levels_when_read_from_one_set_up() -> None:
    """A level is the known level plus backsight less sight: 10 + 1.5 - 1.25 = 10.25."""
    levels = reduced(level_book(WALK[:2]), {"BM": 10.0})
    assert levels.hi[0] == pytest.approx(11.5, abs=1e-12)
    assert levels.level == pytest.approx([10.0, 10.25], abs=1e-12)


def test_each_sight_takes_its_set_ups_correction_when_a_loop_is_adjusted() -> None:
    """4 mm over two set-ups: -2 mm for what was read from the first, -4 mm for the second, intermediates too."""
    levels = reduced(level_book(WALK), {"BM": 10.0})
    assert levels.runs[0].misclosure == pytest.approx(0.004, abs=1e-12)
    assert levels.correction == pytest.approx([0, -0.002, -0.002, -0.004, -0.004], abs=1e-12)
    assert levels.level[-1] == pytest.approx(10.0, abs=1e-12)


def test_rises_and_falls_when_reduced() -> None:
    """1.500 to 1.250 is a rise of 0.250, 1.250 to 1.700 a fall of 0.450; only one of the two is filled in."""
    levels = reduced(level_book(WALK), {"BM": 10.0})
    assert levels.rise == pytest.approx([np.nan, 0.25, np.nan, 0.2, 0.004], nan_ok=True, abs=1e-12)
    assert levels.fall == pytest.approx([np.nan, np.nan, 0.45, np.nan, np.nan], nan_ok=True, abs=1e-12)


def test_page_check_when_sums_are_taken() -> None:
    """Sum BS 2.600 less sum FS 2.596 is 0.004, and so are rises 0.454 less falls 0.450."""
    checks = reduced(level_book(WALK), {"BM": 10.0}).checks
    assert (checks.sum_bs, checks.sum_fs) == pytest.approx((2.6, 2.596))
    assert (checks.sum_rise, checks.sum_fall) == pytest.approx((0.454, 0.45))
    assert checks.difference == pytest.approx(0.004)
    assert checks.last_less_first == pytest.approx(0.004)
    assert checks.agrees


def test_names_match_when_case_differs() -> None:
    """A known level given for `bm ` is that of the book's `BM`."""
    assert reduced(level_book(WALK), {" bm": 10.0}).level_of("Gate") == pytest.approx(10.248)


def test_known_level_when_it_stands_in_the_book() -> None:
    """The book's own column is as good as a level given besides."""
    book = level_book(WALK, known=[10.0, None, None, None, None])
    assert reduced(book, {}).level == pytest.approx(reduced(level_book(WALK), {"BM": 10.0}).level)


def test_runs_when_a_known_point_stands_in_the_middle() -> None:
    """Each run between known points is closed on its own: the 6 mm of the first leave the second alone."""
    book = level_book(
        [
            ("A", 1.000, None, None),
            ("T", 1.200, None, 1.400),
            ("B", 1.300, None, 0.600),
            ("g", None, 1.100, None),
            ("C", None, None, 1.501),
        ]
    )
    levels = reduced(book, {"A": 20.0, "B": 20.194, "C": 19.995})
    assert [(run.start, run.end, run.setups) for run in levels.runs] == [("A", "B", 2), ("B", "C", 1)]
    assert [run.misclosure for run in levels.runs] == pytest.approx([0.006, -0.002])
    assert levels.level == pytest.approx([20.0, 19.597, 20.194, 20.396, 19.995])
    assert levels.checks.agrees


def test_turning_point_when_written_in_two_rows() -> None:
    """A foresight and the next backsight on the same point may stand in two rows."""
    in_one = reduced(level_book(WALK), {"BM": 10.0})
    split = [*WALK[:2], ("TP1", None, None, 1.700), ("TP1", 1.100, None, None), *WALK[3:]]
    in_two = reduced(level_book(split), {"BM": 10.0})
    assert in_two.level[[0, 1, 2, 4, 5]] == pytest.approx(in_one.level)
    assert in_two.runs[0].setups == 2
    assert in_two.checks.agrees


def test_generic_turning_points_when_every_one_is_called_tp() -> None:
    """A backsight in a row of its own belongs to the foresight right before it, whatever was called TP earlier."""
    rows = [
        ("BM", 1.0, None, None),
        ("TP", None, None, 2.0),
        ("TP", 1.0, None, None),
        ("TP", None, None, 2.5),
        ("TP", 1.0, None, None),
        ("end", None, 1.0, None),
    ]
    assert reduced(level_book(rows), {"BM": 10.0}).level[-1] == pytest.approx(10 - 1 - 1.5)


def test_branch_when_a_set_up_begins_on_an_intermediate_point() -> None:
    """What is read from a set-up on an adjusted point counts from the adjusted level: gate 10.248, plus 1 less 2."""
    rows = [*WALK, ("gate", 1.0, None, None), ("pond", None, 2.0, None)]
    levels = reduced(level_book(rows), {"BM": 10.0})
    assert levels.level_of("pond") == pytest.approx(9.248)
    assert levels.initial[-1] == pytest.approx(9.25)
    assert [run.kind for run in levels.runs] == ["closed", "open"]
    assert levels.checks.agrees


def test_levels_when_the_book_begins_on_an_unknown_point() -> None:
    """What comes before the first known point is worked backwards, and a notice says so."""
    rows = [("P", 1.5, None, None), ("Q", None, 1.0, None), ("BM", 1.2, None, 2.0), ("R", None, 1.0, None)]
    levels = reduced(level_book(rows), {"BM": 50.0})
    assert levels.level == pytest.approx([50.5, 51.0, 50.0, 50.2])
    assert any("worked back from BM" in notice for notice in levels.notices)
    assert levels.checks.agrees


def test_closing_when_the_last_sight_stands_under_is() -> None:
    """A last reading on the bench mark closes the run although it was written as an intermediate sight."""
    rows = [*WALK[:-1], ("BM", None, 0.896, None)]
    assert reduced(level_book(rows), {"BM": 10.0}).level == pytest.approx(reduced(level_book(WALK), {"BM": 10.0}).level)


def test_check_when_a_known_point_is_an_intermediate_sight() -> None:
    """A known point sighted on the way is compared, keeps its known level, and the run is not adjusted to it."""
    rows = [*WALK[:2], ("BM2", None, 1.300, None), *WALK[2:]]
    levels = reduced(level_book(rows), {"BM": 10.0, "BM2": 10.197})
    check = next(run for run in levels.runs if run.kind == "check")
    assert check.misclosure == pytest.approx(0.003)
    assert levels.level_of("BM2") == 10.197
    assert levels.level_of("gate") == pytest.approx(10.248)


def test_check_stops_when_an_intermediate_known_point_is_far_out() -> None:
    """A known point on the way that is 100 mm out stops the work like any misclosure."""
    rows = [*WALK[:2], ("BM2", None, 1.300, None), *WALK[2:]]
    with pytest.raises(MisclosureError, match=r"BM2 comes out at 10\.200 m, known is 10\.100 m"):
        reduced(level_book(rows), {"BM": 10.0, "BM2": 10.1})


def test_notice_when_a_run_stays_open() -> None:
    """Levels that nothing checks are left as they are, and that is said plainly."""
    levels = reduced(level_book(WALK[:-1]), {"BM": 10.0})
    assert levels.correction == pytest.approx([0, 0, 0, 0])
    assert not levels.closed
    assert levels.runs[0].within is None
    assert any("Nothing checks the levels of lines 2 to 5" in notice for notice in levels.notices)


def test_no_adjustment_when_told_so() -> None:
    """With adjust none the levels are as observed, and a notice says so."""
    levels = reduced(level_book(WALK), {"BM": 10.0}, adjust="none")
    assert levels.level[-1] == pytest.approx(10.004)
    assert any("not shared out" in notice for notice in levels.notices)


def test_adjustment_by_distance_when_the_book_has_distances() -> None:
    """TP1 at 30 m of 40 m takes three quarters of the 4 mm, the gate that of its set-up."""
    book = level_book(WALK, distance=[None, None, 30.0, None, 40.0])
    levels = reduced(book, {"BM": 10.0}, adjust="distance")
    assert levels.correction == pytest.approx([0, -0.003, -0.003, -0.004, -0.004])
    assert levels.runs[0].distance == pytest.approx(40.0)


def test_levels_are_the_naive_ones_when_books_are_random() -> None:
    """The vectorised reduction equals the one-reading-at-a-time twin in exact fractions."""
    from fractions import Fraction  # noqa: PLC0415 - only this test is exact

    rng = np.random.default_rng(7)
    for _ in range(50):
        rows: list[tuple[str, float | None, float | None, float | None]] = [("K0", 1.0, None, None)]
        known = {"K0": 100.0}
        for place in range(1, int(rng.integers(3, 40))):
            first, second = (round(float(value), 3) for value in rng.uniform(0.1, 4.0, 2))
            kind = rng.integers(4)
            if kind == 0:
                known[f"K{place}"] = round(float(rng.uniform(90, 110)), 3)
                rows.append((f"K{place}", first, None, second))
            elif kind == 1:
                rows.append((f"T{place}", first, None, second))
            else:
                rows.append((f"p{place}", None, first, None))
        known["K99"] = 101.0
        rows.append(("K99", None, None, 1.234))
        exact = [
            (name, *(None if cell is None else Fraction(round(cell * 1000), 1000) for cell in cells))
            for name, *cells in rows
        ]
        exact_known = {name: Fraction(round(level * 1000), 1000) for name, level in known.items()}
        levels = reduce_level_book(level_book(rows), known, tolerance=LOOSE)
        assert levels.initial == pytest.approx([float(x) for x in levels_by_hi(exact, exact_known)], abs=1e-9)
        assert levels.initial == pytest.approx(
            [float(x) for x in levels_by_rise_and_fall(exact, exact_known)], abs=1e-9
        )
        assert levels.level == pytest.approx([float(x) for x in adjusted_by_set_ups(exact, exact_known)], abs=1e-9)
        assert levels.checks.agrees


def test_sentences_are_in_feet_when_the_book_is() -> None:
    """A book written to hundredths of a foot is spoken of in feet."""
    rows = [("BM", 4.32, None, None), ("TP", 5.0, None, 4.0), ("BM", None, None, 5.0)]
    with pytest.raises(MisclosureError, match=r"misclosure \+0.32 ft"):
        reduced(level_book(rows, unit=FOOT, step=0.01), {"BM": 100 * FOOT})


def test_unit_when_given() -> None:
    """The unit of the sentences can be chosen."""
    levels = reduced(level_book(WALK), {"BM": 10.0}, unit=LengthUnit.FOOT)
    assert levels.unit is LengthUnit.FOOT


def test_level_of_names_the_nearest_point_when_unknown() -> None:
    """Asking for a level that is not there answers with the nearest name."""
    with pytest.raises(InputError, match="Did you mean 'steps'"):
        reduced(level_book(WALK), {"BM": 10.0}).level_of("step")


def test_a_row_without_reading_when_reduced() -> None:
    """A named row without any reading gets no level, and that is said."""
    levels = reduced(level_book([*WALK[:2], ("shed", None, None, None), *WALK[2:]]), {"BM": 10.0})
    assert np.isnan(levels.level[2])
    assert any("shed (line 4)" in notice for notice in levels.notices)


def test_negative_reading_when_the_rod_was_upside_down() -> None:
    """A rod held upside down on a soffit reads negative: it lies above the instrument, and a notice names the line."""
    levels = reduced(level_book([WALK[0], ("soffit", None, -1.2, None)]), {"BM": 10.0})
    assert levels.level_of("soffit") == pytest.approx(12.7)
    assert any("line 3" in notice and "upside down" in notice for notice in levels.notices)
