"""A loop of eight set-ups by rise and fall that does not close, with two slips in print.

NPTEL (IIT Roorkee) course 105107122 Surveying, Module 4, Ex13-1,
https://archive.nptel.ac.in/content/storage2/courses/105107122/modules/module4/html/43.htm
Readings given as one string, backsight and foresight in turn; BM 150.485; three decimals.
"""

from __future__ import annotations

import numpy as np
import pytest

from books import Cell, level_book, reduced
from spadework.errors import MisclosureError
from spadework.levels import ReducedLevels

STRING = [
    1.205,
    1.860,
    0.125,
    1.915,
    0.395,
    2.615,
    0.880,
    1.760,
    1.960,
    0.920,
    2.595,
    0.915,
    2.255,
    0.515,
    2.305,
    1.170,
]
NAMES = ["BM", "TP1", "TP2", "TP3", "TP4", "TP5", "TP6", "TP7", "BM"]
BACKSIGHTS: list[Cell] = [*STRING[0::2], None]
FORESIGHTS: list[Cell] = [None, *STRING[1::2]]
ROWS = [(name, back, None, ahead) for name, back, ahead in zip(NAMES, BACKSIGHTS, FORESIGHTS, strict=True)]
KNOWN = {"BM": 150.485}

RISES: list[Cell] = [None, None, None, None, None, 1.040, 1.680, 1.740, 1.135]
FALLS_PRINTED: list[Cell] = [None, 0.655, 1.7290, 2.220, 0.880, None, None, None, None]
LEVELS_PRINTED: list[Cell] = [150.485, 149.830, 148.040, 145.820, 144.940, 145.980, 147.660, 149.450, 150.535]
SLIPS = {"fall": 2, "level": 7}


def typed() -> ReducedLevels:
    """The page as somebody types it, with its printed figures."""
    printed = {"printed": LEVELS_PRINTED, "printed_rise": RISES, "printed_fall": FALLS_PRINTED}
    return reduced(level_book(ROWS, printed=printed), KNOWN, allow_misclosure=True)


def test_sums_when_reduced() -> None:
    """Backsights 11.720, foresights 11.670, rises 5.595, falls 5.545: all +0.050."""
    checks = typed().checks
    sums = (checks.sum_bs, checks.sum_fs, checks.sum_rise, checks.sum_fall, checks.difference)
    assert sums == pytest.approx((11.720, 11.670, 5.595, 5.545, 0.050), abs=0.0005)
    assert checks.agrees


def test_loop_when_it_does_not_close() -> None:
    """The misclosure of 50 mm stops the work under the rule for construction, 0.02 ft per root set-up."""
    with pytest.raises(MisclosureError, match=r"from BM to BM \(8 set-ups\) does not close.*\+0.050 m"):
        reduced(level_book(ROWS), KNOWN)


def test_levels_when_let_pass() -> None:
    """All printed levels but the slip."""
    levels = typed()
    right = [row for row in range(9) if row != SLIPS["level"]]
    expected = [LEVELS_PRINTED[row] for row in right]
    assert levels.initial[right] == pytest.approx(expected, abs=0.0005)
    assert levels.runs[0].misclosure == pytest.approx(0.050, abs=0.0005)


def test_levels_when_adjusted_by_set_ups() -> None:
    """Equal parts of 50 mm over eight set-ups, computed from the printed levels (four decimals)."""
    derived = [150.4850, 149.8238, 148.0275, 145.8012, 144.9150, 145.9488, 147.6225, 149.3562, 150.4850]
    assert typed().level == pytest.approx(derived, abs=0.00005 + 1e-9)


@pytest.mark.xfail(reason="the page prints the second fall as 1.7290; 0.125 - 1.915 is a fall of 1.790", strict=True)
def test_second_fall_when_printed() -> None:
    """The fall to TP2 as printed."""
    assert typed().fall[SLIPS["fall"]] == pytest.approx(FALLS_PRINTED[SLIPS["fall"]], abs=0.0005)


@pytest.mark.xfail(reason="the page prints TP7 as 149.450; its next line follows only from 149.400", strict=True)
def test_seventh_turning_point_when_printed() -> None:
    """The level of TP7 as printed."""
    assert typed().initial[SLIPS["level"]] == pytest.approx(LEVELS_PRINTED[SLIPS["level"]], abs=0.0005)


def test_slips_are_found_when_the_page_is_typed_in() -> None:
    """Both slips: the line of each, the printed figure and the right one; then the question what the 50 mm may be."""
    fall, level, question = typed().suspects
    assert fall.startswith("line 4: the fall to TP2 is printed as 1.729")
    assert "a fall of 1.790" in fall
    assert level.startswith("line 9: TP7 is printed as 149.450 m, but the readings give 149.400 m")
    assert "right again" in level
    assert "did you mean" in question


def test_no_doubt_when_the_slips_are_put_right() -> None:
    """With 1.790 and 149.400 the page raises no doubt beside that of its 50 mm."""
    levels = list(LEVELS_PRINTED)
    falls = list(FALLS_PRINTED)
    levels[SLIPS["level"]], falls[SLIPS["fall"]] = 149.400, 1.790
    printed = {"printed": levels, "printed_rise": RISES, "printed_fall": falls}
    (question,) = reduced(level_book(ROWS, printed=printed), KNOWN, allow_misclosure=True).suspects
    assert "printed" not in question
    assert np.isfinite(typed().level).all()
