"""When slips are looked for, which of them are named, in which words: closed forms and a table of chi-square."""

from __future__ import annotations

import math

import numpy as np
import pytest

from spadework.adjust.least_squares import solve_least_squares
from spadework.adjust.slips import disagrees, named_slips, one_question, pen_reasons
from spadework.units import LengthUnit

CHI_SQUARE_1_IN_1000 = 10.828
"""Exceeded once in a thousand with one degree of freedom: NIST/SEMATECH e-Handbook, 1.3.6.7.4 (from memory)."""


@pytest.mark.parametrize(("chi_square", "expected"), [(10.7, False), (10.9, True)])
def test_search_starts_when_chance_would_do_it_once_in_a_thousand(chi_square: float, *, expected: bool) -> None:
    """Two readings of one level that lie d apart, sd 1 each: chi-square is d² / 2, on either side of the table's."""
    assert (chi_square > CHI_SQUARE_1_IN_1000) is expected
    solution = solve_least_squares(np.ones((2, 1)), [0.0, math.sqrt(2.0 * chi_square)])
    assert solution.chi_square == pytest.approx(chi_square)
    assert disagrees(solution) is expected


@pytest.mark.parametrize(("sds", "expected"), [(3.9, False), (4.1, True)])
def test_search_starts_when_one_of_many_is_loud(sds: float, *, expected: bool) -> None:
    """One of 21 readings is off by d: d sqrt(20 / 21) standard deviations, and a chi-square that 20 others swallow."""
    off = sds / math.sqrt(20 / 21)
    solution = solve_least_squares(np.ones((21, 1)), [off, *[0.0] * 20])
    assert float(np.abs(solution.standardised).max()) == pytest.approx(sds)
    assert disagrees(solution) is expected


def test_nothing_is_searched_when_nothing_is_left_over() -> None:
    """One reading of one level cannot disagree."""
    assert not disagrees(solve_least_squares(np.ones((1, 1)), [5.0]))


def test_likeliest_is_named_first_and_the_unlikely_not_at_all() -> None:
    """Shares of 50, 30, 18 and 2 in 100, whatever is added to their logs: three are named, or as many as asked."""
    scores = np.log([0.18, 0.50, 0.02, 0.30]) - 1000.0
    assert named_slips(scores, 4) == [(1, pytest.approx(0.5)), (3, pytest.approx(0.3)), (0, pytest.approx(0.18))]
    assert [place for place, _ in named_slips(scores, 2)] == [1, 3]
    even = named_slips(np.zeros(50), 4)
    assert even == [(0, pytest.approx(0.02))]


@pytest.mark.parametrize(
    ("unit", "expected"),
    [
        (LengthUnit.METRE, ("a whole metre out", "ten metres out", "a decimetre out")),
        (LengthUnit.FOOT, ("a whole foot out", "ten feet out", "a tenth of a foot out")),
        (LengthUnit.FOOT_INCH, ("a whole foot out", "ten feet out", "an inch out")),
    ],
)
def test_slips_are_told_in_the_unit_that_was_written(unit: LengthUnit, expected: tuple[str, str, str]) -> None:
    """Metres and decimetres, feet and their tenths, or inches."""
    assert tuple(pen_reasons(unit)[kind] for kind in ("whole", "ten", "tenth")) == expected


def test_less_likely_questions_follow_the_first() -> None:
    """One question alone stands as it is."""
    assert one_question(["A?"]) == "A?"
    assert one_question(["A?", "B?", "C?"]) == "A? Less likely: B? Or C?"
