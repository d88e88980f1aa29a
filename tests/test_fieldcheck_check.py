"""Points against what they should be: signs, tolerance, places, and the strip that follows the ground."""

from __future__ import annotations

import numpy as np
import pytest

from field_checks import check_of, grid_on, sloping_ground, wanted_pad
from spadework.errors import SurveyError
from spadework.units import FOOT, LengthUnit


def test_point_is_high_when_it_stands_above() -> None:
    """Measured less wanted: above the formation is high, positive and dug; below is low, negative and brought."""
    wanted = wanted_pad()
    made = check_of(wanted, grid_on(wanted, 2, 2), [100.03, 99.96, 100.0, 100.02], names=("A", "B", "D", "C"))
    assert [point.state for point in made.points] == ["high", "low", "in tolerance", "in tolerance"]
    assert [point.deviation for point in made.points] == pytest.approx([0.03, -0.04, 0.0, 0.02], abs=1e-9)
    assert [point.name for point in made.off] == ["B", "A"]
    assert not made.within
    assert made.mean == pytest.approx(0.0025, abs=1e-9)
    assert (made.highest.name, made.lowest.name) == ("A", "B")


@pytest.mark.parametrize(("off", "within"), [(0.02, True), (0.0201, False), (-0.02, True), (-0.0201, False)])
def test_tolerance_when_met_exactly(off: float, within: bool) -> None:
    """A point off by just the tolerance is in tolerance, a tenth of a millimetre more is not."""
    wanted = wanted_pad()
    assert check_of(wanted, grid_on(wanted, 2, 2)[:1], [100.0 + off]).within is within


@pytest.mark.parametrize(
    ("stage", "level"), [("formation", 100.0), ("layer 1", 100.1), ("+120 mm", 100.12), ("finish", 100.15)]
)
def test_wanted_level_when_at_each_stage(stage: str, level: float) -> None:
    """Each stage has its level above the formation."""
    wanted = wanted_pad()
    made = check_of(wanted, grid_on(wanted), np.full(20, level), stage)
    assert [point.wanted for point in made.points] == pytest.approx([level] * 20, abs=1e-9)
    assert made.within


def test_strip_when_ground_slopes() -> None:
    """After the strip the level to be had is that of the ground less the strip, place by place."""
    plain = wanted_pad(bearing=30.0)
    wanted = wanted_pad(bearing=30.0, ground=sloping_ground(0.05, -0.02, 100.4, plain))
    points = grid_on(wanted)
    east, north = (points - [20.0, 30.0]).T
    should = 100.4 + 0.05 * east - 0.02 * north - 0.1
    made = check_of(wanted, points, should + 0.01, "strip")
    assert [point.wanted for point in made.points] == pytest.approx(should.tolist(), abs=1e-7)
    assert [point.deviation for point in made.points] == pytest.approx([0.01] * 20, abs=1e-7)


def test_strip_is_refused_when_ground_is_not_known() -> None:
    """A plan without its ground cannot judge the strip, and says so."""
    wanted = wanted_pad()
    with pytest.raises(SurveyError, match="does not know the ground"):
        check_of(wanted, grid_on(wanted), np.full(20, 100.0), "strip")


def test_points_are_left_out_when_off_the_pad() -> None:
    """A point off the pad is named and not compared; one a hand's breadth off the edge is compared."""
    wanted = wanted_pad()  # 3 m across from east 18.5 to 21.5, 4 m along from north 28 to 32
    points = np.array([[20.0, 30.0], [18.46, 30.0], [18.4, 30.0], [25.0, 30.0]])
    made = check_of(wanted, points, [100.0, 100.0, 105.0, 105.0], names=("mid", "edge", "path", "tree"))
    assert [point.name for point in made.points] == ["mid", "edge"]
    assert made.outside == ("path", "tree")
    assert made.within


def test_nothing_can_be_said_when_no_point_is_on_the_pad() -> None:
    """Points somewhere else are refused with where the pad is; swapped columns are asked about."""
    wanted = wanted_pad()
    swapped = grid_on(wanted)[:, ::-1]
    with pytest.raises(SurveyError, match="east and north swapped") as caught:
        check_of(wanted, swapped, np.full(20, 100.0))
    assert "east 20.00 m, north 30.00 m" in str(caught.value)


@pytest.mark.parametrize("count", [1, 2])
def test_points_are_compared_when_too_few_for_a_surface(count: int) -> None:
    """One or two points are judged each for itself; plane, water, flatness and amounts are not said."""
    wanted = wanted_pad()
    made = check_of(wanted, grid_on(wanted)[:count], np.full(count, 100.0))
    assert made.within
    assert (made.plane, made.flatness, made.amounts, made.hollows) == (None, None, None, None)


def test_points_in_one_line_make_no_surface() -> None:
    """Three points along one line do not fix a plane."""
    wanted = wanted_pad()
    line = np.array([[20.0, 28.5], [20.0, 30.0], [20.0, 31.5]])
    assert check_of(wanted, line, [100.0, 100.0, 100.0]).plane is None


def test_corner_is_named_when_nothing_was_taken_there() -> None:
    """A corner without a point near it is named."""
    wanted = wanted_pad()
    points = np.array([wanted.stakes[name] for name in "ABC"])
    assert check_of(wanted, points, [100.0] * 3).unmeasured == ("D",)


def test_point_is_averaged_when_taken_twice() -> None:
    """Two readings at one stake are both listed, and count once, by their mean, for the surface."""
    wanted = wanted_pad()
    points = np.vstack([grid_on(wanted, 2, 2), grid_on(wanted, 2, 2)[:1]])
    made = check_of(wanted, points, [100.02, 100.0, 100.0, 100.0, 99.98])
    assert len(made.points) == 5
    assert made.plane is not None
    assert made.plane.slope == pytest.approx(0.0, abs=1e-12)


def test_straight_edge_when_nobody_says() -> None:
    """Two metres, or eight feet for those who measure in feet."""
    for unit, length in ((LengthUnit.METRE, 2.0), (LengthUnit.FOOT, 8 * FOOT), (LengthUnit.FOOT_INCH, 8 * FOOT)):
        wanted = wanted_pad(units=unit)
        assert check_of(wanted, grid_on(wanted), np.full(20, 100.0)).straight_edge_length == pytest.approx(length)
