"""Grade rods and stake marks after a military manual and a soil conservation release.

Rule: grade rod = HI - planned level; grade rod - ground rod is cut when positive and fill when negative. USDA Soil
Conservation Service, Technical Release 62, January 1979; NAVEDTRA 14069, Engineering Aid 3, figure 14-36,
https://engineeringtraining.tpub.com/14069/css/14069_503.htm
Marks: C cut, F fill, GRADE, numerals after the letter: NAVEDTRA 14069, pages 14-35 and 14-36,
https://engineeringtraining.tpub.com/14069/css/Setting-Grade-Stakes-502.htm

The numbers of the rows are constructed: the sources give the rule, and their figures in pictures.
"""

from __future__ import annotations

import pytest

from spadework.stakeout import depth_mark, grade_rod
from spadework.units import FOOT, LengthUnit

# case, HI, design level, grade rod, ground rod, mark; feet
ROWS = [
    pytest.param(103.42, 100.00, 3.42, 2.10, "C 1.32", id="cut"),
    pytest.param(103.42, 100.00, 3.42, 5.06, "F 1.64", id="fill"),
    pytest.param(103.42, 100.00, 3.42, 3.42, "GRADE", id="on grade"),
    pytest.param(103.42, 105.00, -1.58, 2.10, "F 3.68", id="HI below grade"),
]


@pytest.mark.parametrize(("hi", "design", "rod", "ground_rod", "mark"), ROWS)
def test_grade_rod_gives_the_mark_when_the_rod_is_read_on_the_ground(
    hi: float, design: float, rod: float, ground_rod: float, mark: str
) -> None:
    """The grade rod to 0.01 ft, and what the stake then says."""
    found = grade_rod(hi * FOOT, design * FOOT)
    assert found / FOOT == pytest.approx(rod, abs=0.005)
    assert depth_mark(found - ground_rod * FOOT, LengthUnit.FOOT) == mark
