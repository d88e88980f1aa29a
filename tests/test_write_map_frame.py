"""What a map shows, its contour interval and its scale bar."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sample_plan import sample_plan
from spadework.units import FOOT, LengthUnit
from spadework.write.map_frame import Extent, contour_interval, contour_text, scale_bar, yard_extent


def test_extent_keeps_its_middle_when_it_fills_a_box() -> None:
    """A square shown in a box twice as wide as high is widened on both sides alike."""
    shown = Extent(0, 0, 10, 10).filling(8, 4)
    assert shown == Extent(-5, 0, 15, 10)
    assert Extent(0, 0, 10, 10).filling(4, 8) == Extent(0, -5, 10, 15)


def test_yard_extent_holds_boundary_pad_shots_and_references() -> None:
    """Nothing that belongs to the yard falls off the map."""
    plan = sample_plan(references=(("oak", -7.0, 25.0),))
    shown = yard_extent(plan)
    for east, north in [*plan.limits.boundary[0], (-7.0, 25.0), *plan.search.best.placement.corners(plan.pad)]:
        assert shown.holds(east, north)


def test_yard_extent_passes_over_shots_without_a_place() -> None:
    """A bench mark without a position does not take the map with it."""
    plan = sample_plan()
    assert plan.shots is not None
    east = plan.shots.east.copy()
    east[0] = np.nan
    shown = yard_extent(replace(plan, shots=replace(plan.shots, east=east)))
    assert all(np.isfinite([shown.west, shown.south, shown.east, shown.north]))


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_contour_interval_is_round_and_draws_no_more_than_twelve(unit: LengthUnit) -> None:
    """At most twelve contours, and no coarser than needs be: the yard falls by 1.5 m or so."""
    plan = sample_plan(unit)
    interval = contour_interval(plan, yard_extent(plan))
    height = float(np.ptp(plan.ground.level))
    assert height / interval <= 12
    assert height / interval > 12 / 2.51
    expected = {LengthUnit.METRE: (0.2,), LengthUnit.FOOT: (0.5, 1.0), LengthUnit.FOOT_INCH: (0.5, 1.0)}[unit]
    scale = 1.0 if unit is LengthUnit.METRE else FOOT
    assert any(interval == pytest.approx(value * scale) for value in expected)


def test_contour_interval_is_none_when_ground_is_level() -> None:
    """Level ground has no contours."""
    plan = sample_plan()
    level = replace(plan.ground, level=np.full(len(plan.ground.level), 100.0))
    assert contour_interval(replace(plan, ground=level), yard_extent(plan)) == 0.0


@pytest.mark.parametrize(
    ("level", "interval", "unit", "expected"),
    [
        (99.8, 0.2, LengthUnit.METRE, "99.8"),
        (100.0, 0.05, LengthUnit.METRE, "100.00"),
        (120.0, 5.0, LengthUnit.METRE, "120"),
        (98.5 * FOOT, 0.5 * FOOT, LengthUnit.FOOT, "98.5"),
        (98 * FOOT, 2 * FOOT, LengthUnit.FOOT, "98"),
        (98.5 * FOOT, 0.25 * FOOT, LengthUnit.FOOT_INCH, "98' 6\""),
        (99 * FOOT, 0.25 * FOOT, LengthUnit.FOOT_INCH, "99'"),
        (-0.25 * FOOT, 0.25 * FOOT, LengthUnit.FOOT_INCH, "-0' 3\""),
    ],
)
def test_contour_text_has_no_more_decimals_than_the_interval(
    level: float, interval: float, unit: LengthUnit, expected: str
) -> None:
    """Labels are as short as they can be without two contours looking alike."""
    assert contour_text(level, interval, unit) == expected


@pytest.mark.parametrize(
    ("width", "unit", "length", "words"),
    [
        (24.0, LengthUnit.METRE, 5.0, "5 m"),
        (50.0, LengthUnit.METRE, 20.0, "20 m"),
        (1.0, LengthUnit.METRE, 0.2, "0.2 m"),
        (24.0, LengthUnit.FOOT, 20 * FOOT, "20 ft"),
        (3.0, LengthUnit.FOOT_INCH, 2 * FOOT, "2 ft"),
        (0.5, LengthUnit.FOOT_INCH, 6 * FOOT / 12, "6 in"),
    ],
)
def test_scale_bar_is_round_in_the_users_unit(width: float, unit: LengthUnit, length: float, words: str) -> None:
    """The longest round length within two fifths of the map."""
    found, said = scale_bar(width, unit)
    assert found == pytest.approx(length)
    assert said == words
