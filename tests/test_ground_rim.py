"""The outline that shots support."""

import numpy as np
import pytest
import shapely

from grounds import rough, scattered, shots_of
from spadework.ground import Ground, triangulate_shots
from spadework.ground.rim import far_sides, within_reach


def corner_plot() -> Ground:
    """An L of shots 2 m apart: 20 m by 20 m less the quarter at the north-east."""
    east, north = (values.ravel() for values in np.meshgrid(np.arange(0, 21, 2.0), np.arange(0, 21, 2.0)))
    there = (east <= 10) | (north <= 10)
    return triangulate_shots(shots_of(east[there], north[there], 0.01 * east[there]))


@pytest.mark.parametrize(("reach", "area", "less"), [(3.0, 308, "42.0 m²"), (1.4, 300, "50.0 m²")])
def test_notch_is_no_ground_when_the_reach_is_short(reach: float, area: float, less: str) -> None:
    """The hull spans half of the notch of 10 m by 10 m.

    By hand: with a reach of 3 m the side between shots 4 m from the inner corner, 5.66 m, stays, and 8 m² with it; with
    1.4 m only the L is left, for the smallest side across is 2.83 m.
    """
    ground = corner_plot()
    assert ground.area == pytest.approx(400 - 50)
    left = within_reach(ground, reach)
    assert left.area == pytest.approx(area)
    assert len(left.level) == len(ground.level)
    assert "no ground there, as [ground] reach says" in left.notices[-1]
    assert less in left.notices[-1]


def test_nothing_is_left_out_when_all_sides_are_short() -> None:
    """A reach beyond half the longest side of the rim changes nothing."""
    ground = corner_plot()
    assert within_reach(ground, 8.0) is ground


@pytest.mark.parametrize("reach", [0.5, 2.0, 4.0])
def test_no_shot_is_lost_and_the_ground_stays_whole(reach: float) -> None:
    """However short the reach: every shot stays a corner, and the outline is one ring without a hole."""
    ground = scattered(150, rough())
    left = within_reach(ground, reach)
    assert sorted(left.names) == sorted(ground.names)
    rings = left.outline()
    assert len(rings) == 1
    assert shapely.Polygon(rings[0]).is_valid
    assert left.area == pytest.approx(shapely.Polygon(rings[0]).area)


def test_breakline_at_the_rim_stays() -> None:
    """A long side along which a breakline runs is supported by it: only 2 triangles of 5 m² at the top side go."""
    shots = shots_of([0, 20, 0, 5, 10, 15, 20], [0, 0, 4, 3, 4, 3, 4], [0.0] * 7)
    assert within_reach(triangulate_shots(shots), 4.0).area < 70
    kept = triangulate_shots(shots, breaklines=[("S1", "S2")])
    assert within_reach(kept, 4.0).area == pytest.approx(80 - 10)


def test_long_thin_triangles_are_named_with_a_reach_that_would_do() -> None:
    """Two corners 40 m apart with shots 1 m inside their side: said, with the length and the usual distance."""
    east = np.array([0, 40, *np.arange(2, 39, 2.0), *np.arange(0, 41, 4.0)])
    north = np.array([0, 0, *[1.0] * 19, *[5.0] * 11])
    (said,) = far_sides(triangulate_shots(shots_of(east, north, 0.01 * east)))
    assert said.startswith("1 long thin triangle along the rim: from S1 to S2, 40.00 m")
    assert '[ground] reach = "5 m"' in said


def test_nothing_is_said_of_a_grid() -> None:
    """A taped grid has no long sides."""
    east, north = (values.ravel() for values in np.meshgrid(np.arange(6.0), np.arange(9.0)))
    assert far_sides(triangulate_shots(shots_of(east, north, east))) == ()
