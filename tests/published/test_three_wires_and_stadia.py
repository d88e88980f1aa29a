"""Three wires on a rod, and inclined stadia sights, as published."""

from __future__ import annotations

import pytest

from spadework.positions import stadia_parts, three_wires


def test_three_wires_when_read_on_one_rod() -> None:
    """Wires 4.31, 4.16, 4.02 ft: mean 4.163, interval 0.29, 29 ft away, half-intervals 0.15 and 0.14.

    J. Mahun, Open Access Surveying Library, Elevations chapter G section 2, jerrymahun.com.
    """
    found = three_wires(4.31, 4.16, 4.02)
    assert float(found.mean) == pytest.approx(4.163, abs=0.0005)
    assert float(found.interval) == pytest.approx(0.29, abs=0.005)
    assert 100 * float(found.interval) == pytest.approx(29, abs=0.5)
    assert float(found.unevenness) == pytest.approx(0.15 - 0.14, abs=1e-9)


def test_interval_when_wires_stand_68_feet_away() -> None:
    """Wires 7.66 and 6.98 ft make 0.68 ft, 68 ft at 100 to one. (J. Mahun, chapter D, Stadia.)"""
    horizontal, _ = stadia_parts(7.66 - 6.98, 0.0)
    assert float(horizontal) == pytest.approx(68, abs=0.5)


def test_sight_when_inclined_by_25_degrees_14_minutes() -> None:
    """100 cos² = 81.83 and 50 sin 2a = 38.56 (U.S. Navy, Engineering Aid 1, NAVEDTRA 14070, chapter 8)."""
    horizontal, vertical = stadia_parts(1.0, 25 + 14 / 60)
    assert float(horizontal) == pytest.approx(81.83, abs=0.005)
    assert float(vertical) == pytest.approx(38.56, abs=0.005)


# Derived with the formulas of NAVEDTRA 14070 chapter 8, K = 100, C = 0: angle in degrees, distance and rise for each
# unit of intercept.
TABLE = [
    (1, 99.97, 1.74),
    (2, 99.88, 3.49),
    (3, 99.73, 5.23),
    (5, 99.24, 8.68),
    (8, 98.06, 13.78),
    (10, 96.98, 17.10),
    (15, 93.30, 25.00),
    (20, 88.30, 32.14),
    (25, 82.14, 38.30),
    (30, 75.00, 43.30),
]


@pytest.mark.parametrize(("angle", "distance", "rise"), TABLE, ids=[str(row[0]) for row in TABLE])
def test_stadia_table_when_inclined(angle: float, distance: float, rise: float) -> None:
    """Distance and rise for each unit of intercept."""
    horizontal, vertical = stadia_parts(1.0, angle)
    assert float(horizontal) == pytest.approx(distance, abs=0.005 + 1e-9)
    assert float(vertical) == pytest.approx(rise, abs=0.005 + 1e-9)


def test_sights_when_the_instrument_has_an_additive_constant() -> None:
    """H = K s cos² a + C cos a and V = K s cos a sin a + C sin a with C = 1 ft (closed form at 30°)."""
    horizontal, vertical = stadia_parts(2.0, 30.0, multiplier=100.0, addition=1.0)
    assert float(horizontal) == pytest.approx(150.0 + 3**0.5 / 2)
    assert float(vertical) == pytest.approx(50.0 * 3**0.5 + 0.5)
