"""The outline that shots support."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import cdist

from grounds import rough, scattered, shots_of
from spadework.ground import Ground, triangulate_shots
from spadework.ground.rim import far_sides, longest_link, supported, within_reach
from spadework.readings import FloatArray
from spadework.units import LengthUnit


def corner_plot() -> Ground:
    """An L of shots 2 m apart: 20 m by 20 m less the quarter at the north-east."""
    east, north = (values.ravel() for values in np.meshgrid(np.arange(0, 21, 2.0), np.arange(0, 21, 2.0)))
    there = (east <= 10) | (north <= 10)
    return triangulate_shots(shots_of(east[there], north[there], 0.01 * east[there]))


@pytest.mark.parametrize(("reach", "area", "less"), [(2.1, 308, "42.00 m²"), (1.35, 300, "50.00 m²")])
def test_notch_is_no_ground_when_the_reach_is_short(reach: float, area: float, less: str) -> None:
    """The hull spans half of the notch of 10 m by 10 m.

    By hand: with a reach of 2.1 m the side between shots 4 m from the inner corner stays, for its middle is 2 m from
    two shots, and 8 m² with it; the middle of the next side, from 4 m to 6 m, is √5 = 2.24 m from any. With 1.35
    m only the L is left: the smallest sides across have places √2 and √20 / 3 = 1.49 m from any shot.
    """
    ground = corner_plot()
    assert ground.area == pytest.approx(400 - 50)
    left = within_reach(ground, reach)
    assert left.area == pytest.approx(area)
    assert len(left.level) == len(ground.level)
    assert "as [ground] reach says" in left.notices[-1]
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
    """A long side along which a breakline runs is supported by it; without it 30 m² of the 80 go, 3 m from any shot."""
    shots = shots_of([0, 20, 0, 5, 10, 15, 20], [0, 0, 4, 3, 4, 3, 4], [0.0] * 7)
    assert within_reach(triangulate_shots(shots), 2.95).area == pytest.approx(80 - 30)
    kept = triangulate_shots(shots, breaklines=[("S1", "S2")])
    assert within_reach(kept, 2.95) is kept


def fence() -> Ground:
    """Two corners 40 m apart with shots 1 m inside their side."""
    east = np.array([0, 40, *np.arange(2, 39, 2.0), *np.arange(0, 41, 4.0)])
    north = np.array([0, 0, *[1.0] * 19, *[5.0] * 11])
    return triangulate_shots(shots_of(east, north, 0.01 * east))


def test_long_thin_triangles_are_named() -> None:
    """Said, with the length and the usual distance."""
    (said,) = far_sides(fence())
    assert said.startswith("1 long thin triangle along the rim: from S1 to S2, 40.000 m")


def test_long_thin_triangle_is_left_out_unless_a_boundary_runs_there() -> None:
    """The side of 40 m, more than four longest links: left out and named; within a boundary the yard goes on to it."""
    ground = fence()
    left = supported(ground)
    assert "from S1 to S2 (40.000 m)" in left.notices[-1]
    assert f"{ground.area - left.area:.2f} m²" in left.notices[-1]
    assert sorted(left.names) == sorted(ground.names)
    assert supported(ground, fenced=True) is ground


def test_longest_link_is_that_of_a_library() -> None:
    """The longest side of the shortest network is that of a dense tree over all distances, and a grid's spacing."""
    ground = scattered(60, rough())
    places = np.column_stack([ground.east, ground.north])
    tree = minimum_spanning_tree(cdist(places, places))
    assert longest_link(ground) == pytest.approx(tree.data.max())
    assert longest_link(corner_plot()) == pytest.approx(2.0)


def test_notch_is_left_out_without_being_asked_and_said() -> None:
    """Shots 2 m apart support ground for 3 m: by hand, what is left of the notch is as for a reach of 3 m."""
    ground = corner_plot()
    left = supported(ground, unit=LengthUnit.METRE)
    assert left.area == pytest.approx(within_reach(ground, 3.0).area)
    assert left.area < ground.area
    assert "3.000 m from a shot" in left.notices[-1]
    assert "the longest step from shot to shot (2.000 m)" in left.notices[-1]
    assert "ft²" in supported(ground, unit=LengthUnit.FOOT).notices[-1]


def sections(spacing: float) -> FloatArray:
    """Cross-sections 10 m apart, shots along them 1 m apart."""
    along, across = np.meshgrid(np.arange(0.0, 31.0, 10.0), np.arange(0.0, 20.1, spacing))
    return np.column_stack([along.ravel(), across.ravel()])


@pytest.mark.parametrize(
    "places",
    [
        np.column_stack([v.ravel() for v in np.meshgrid(np.arange(6.0), np.arange(9.0))]),
        sections(1.0),
        np.array([[0, 0], [30, 0], [30, 20], [0, 20.0]]),
        np.array([[0, 0], [30, 0], [30, 20], [0, 20], [15, 10.0]]),
        *(np.random.default_rng(seed).uniform(0, [20, 30], (12 + 12 * seed, 2)) for seed in range(12)),
    ],
    ids=["grid", "sections", "four corners", "five", *(f"scattered {12 + 12 * seed}" for seed in range(12))],
)
def test_even_yards_keep_all_their_ground(places: FloatArray) -> None:
    """A grid, cross-sections, a few corners, shots scattered evenly: nothing is left out."""
    ground = triangulate_shots(shots_of(*places.T, 0.01 * places[:, 0]))
    assert supported(ground, fenced=True) is ground


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10_000), count=st.integers(8, 120))
def test_what_is_left_is_as_it_was_and_holds_every_shot(seed: int, count: int) -> None:
    """Whatever is peeled: each shot stays, the rim is one ring, and what is left has the levels that it had."""
    draw = np.random.default_rng(seed)
    places = np.vstack([draw.uniform(0, [20, 8], (count, 2)), draw.uniform([0, 8], [6, 30], (count // 2, 2))])
    ground = triangulate_shots(shots_of(*places.T, 0.01 * places[:, 0]))
    left = supported(ground)
    assert sorted(left.names) == sorted(ground.names)
    assert len(left.outline()) == 1
    points = draw.uniform(0, [20, 30], (200, 2))
    now, before = left.level_at(points), ground.level_at(points)
    there = np.isfinite(now)
    np.testing.assert_allclose(now[there], before[there], rtol=0, atol=1e-12)


def test_nothing_is_said_of_a_grid() -> None:
    """A taped grid has no long sides."""
    east, north = (values.ravel() for values in np.meshgrid(np.arange(6.0), np.arange(9.0)))
    assert far_sides(triangulate_shots(shots_of(east, north, east))) == ()
