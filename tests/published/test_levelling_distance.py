"""Adjustment by distance: Navy Engineering Aid, Intermediate/Structural, NAVEDTRA 14071 chapter 7."""

from __future__ import annotations

import pytest

from books import FOOT, Cell, level_book, reduced
from spadework.levels import tolerance_rule


def test_link_when_adjusted_by_distance() -> None:
    """Closing BM 19 observed 136.457, known 136.442 ft, error +0.015 over 2,140 ft: -0.015 d / 2140 at distance d.

    NAVEDTRA 14071 pages 14071_127 and 128,
    https://engineeringtraining.tpub.com/14071/css/Level-Computations-127.htm; the misclosure, the length and that the
    correction is subtracted were read there. The start, the readings and the distance of the turning point are ours,
    made to give that observed level; so only the misclosure and the rule are published. Three decimals.
    """
    rows: list[tuple[str, Cell, Cell, Cell]] = [
        ("start", 4.000, None, None),
        ("TP", 5.000, None, 2.543),
        ("BM 19", None, None, 4.000),
    ]
    book = level_book(rows, unit=FOOT, distance=[0.0, 1070.0, 2140.0])
    levels = reduced(book, {"start": 134.0 * FOOT, "BM 19": 136.442 * FOOT}, "us-third-order", adjust="distance")
    run = levels.runs[0]
    assert run.observed / FOOT == pytest.approx(136.457, abs=0.0005)
    assert run.misclosure / FOOT == pytest.approx(0.015, abs=0.0005)
    assert run.distance / FOOT == pytest.approx(2140)
    assert levels.correction / FOOT == pytest.approx([0.0, -0.0075, -0.015], abs=0.00005)
    assert levels.level[-1] / FOOT == pytest.approx(136.442, abs=0.0005)


def test_third_order_when_the_run_is_2140_feet_long() -> None:
    """The manual judges the run within third order: 0.05 sqrt(2140 / 5280) = 0.0318 ft (computed) is above 0.015 ft.

    The coefficient 0.05 ft per root mile is from memory.
    """
    rule = tolerance_rule("us-third-order")
    assert rule.allowed(2, 2140 * FOOT) / FOOT == pytest.approx(0.0318, abs=0.00005)


# NAVEDTRA 14071 chapter 7, figure 7-5, https://engineeringtraining.tpub.com/14071/css/Traverse-Computations-129.htm
# Loop BCDEB, two decimals of a foot. Read there: BC +10.94 -> +11.01, ED +27.15 -> +27.08, BE +5.23 -> +5.13, closure
# -0.40, corrections in proportion to lengths. CD = +21.04 -> +21.20 is computed from the sum. The lengths were not
# seen, so the ratio 7 : 16 : 7 : 10 of the corrections stands for them.
LOOP = {"C": (10.94, 7.0), "D": (21.04, 16.0), "E": (-27.15, 7.0), "B": (-5.23, 10.0)}
CORRECTED = {"C": 11.01, "D": 21.20, "E": -27.08, "B": -5.13}


def test_net_loop_when_adjusted_by_length() -> None:
    """Each leg takes its share by length, and the corrected loop adds up to nothing.

    Of the cycle method only a single loop fits a level book; a net of loops adjusted one after the other does not.
    """
    rows: list[tuple[str, Cell, Cell, Cell]] = [("B", 30.0, None, None)]
    along = [0.0]
    for name, (difference, length) in LOOP.items():
        along.append(along[-1] + length)
        rows.append((name, None if name == "B" else 30.0, None, 30.0 - difference))
    book = level_book(rows, unit=FOOT, step=0.01, distance=along)
    levels = reduced(book, {"B": 0.0}, "1 ft", adjust="distance", rod_length=60 * FOOT)
    assert levels.runs[0].misclosure / FOOT == pytest.approx(-0.40, abs=0.005)
    legs = [after - before for before, after in zip(levels.level[:-1], levels.level[1:], strict=True)]
    assert [leg / FOOT for leg in legs] == pytest.approx(list(CORRECTED.values()), abs=0.005)
    assert sum(legs) / FOOT == pytest.approx(0.0, abs=1e-9)
