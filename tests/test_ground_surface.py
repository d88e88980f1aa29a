"""The ground as plane triangles."""

import math

import numpy as np
import pytest

import naive
from grounds import lattice, rough, scattered, shots_of
from spadework.errors import GroundError
from spadework.ground import Ground, triangulate_shots


def test_level_at_is_the_plane_when_shots_lie_in_one() -> None:
    """Anywhere between the shots of a plane the level is that of the plane; outside there is none."""
    ground = scattered(60, lambda east, north: 10 + 0.02 * east - 0.05 * north)
    random = np.random.default_rng(3)
    points = random.uniform([0, 0], [30, 40], (500, 2))
    np.testing.assert_allclose(ground.level_at(points), 10 + points @ [0.02, -0.05], rtol=0, atol=1e-13)
    assert np.isnan(ground.level_at(np.array([[-0.01, 5.0], [30.01, 5.0], [5.0, 41.0]]))).all()


def test_level_at_agrees_with_trying_every_triangle() -> None:
    """The buckets find the triangle that a search through all of them finds."""
    ground = scattered(80, rough())
    points = np.random.default_rng(4).uniform([-2, -2], [32, 42], (300, 2))
    expected = [naive.level_at(ground, *point) for point in points]
    np.testing.assert_allclose(ground.level_at(points), expected, rtol=0, atol=1e-12)


def test_level_at_is_the_shot_when_asked_at_a_shot() -> None:
    """At every shot, on the rim too, the level is the one that was read."""
    ground = scattered(50, rough())
    site = np.stack([ground.east, ground.north], axis=1) + ground.origin
    np.testing.assert_allclose(ground.level_at(site), ground.level, rtol=0, atol=1e-9)


def test_level_at_takes_no_points() -> None:
    """No points give no levels."""
    assert ground_of_three().level_at(np.zeros((0, 2))).shape == (0,)


def ground_of_three() -> Ground:
    """The smallest ground."""
    return triangulate_shots(shots_of([0, 4, 0], [0, 0, 3], [1.0, 2.0, 3.0]))


def test_area_is_that_of_the_triangle() -> None:
    """A right triangle of 4 m by 3 m has 6 m²."""
    assert ground_of_three().area == pytest.approx(6.0, abs=1e-15)


def test_origin_is_taken_off_exactly_when_the_site_is_far_away() -> None:
    """Site coordinates come back to the last bit, 500 km from the origin of the axes."""
    east, north = np.array([500_000.125, 500_020.25, 500_003.5]), np.array([4_200_000.0, 4_200_001.75, 4_200_018.5])
    ground = triangulate_shots(shots_of(east, north, [5.0, 6.0, 7.0]))
    assert (ground.east + ground.origin[0] == east).all()
    assert (ground.north + ground.origin[1] == north).all()
    assert np.abs(ground.east).max() < 20
    assert ground.bounds == (500_000.125, 4_200_000.0, 500_020.25, 4_200_018.5)


@pytest.mark.parametrize(
    ("rise_east", "rise_north", "slope", "aspect"), [(0.0, 0.1, 0.1, 180.0), (-0.03, -0.04, 0.05, 36.8699)]
)
def test_mean_plane_says_slope_and_bearing_of_the_fall(
    rise_east: float, rise_north: float, slope: float, aspect: float
) -> None:
    """Rising to the north it falls to the south; falling 3 east and 4 north it falls at atan(3/4) from north."""
    plane = scattered(30, lambda east, north: 8 + rise_east * east + rise_north * north).mean_plane()
    assert plane.slope == pytest.approx(slope, abs=1e-12)
    assert plane.aspect == pytest.approx(aspect, abs=1e-4)
    assert plane.rms == pytest.approx(0, abs=1e-9)


def test_mean_plane_rms_is_that_of_numpy_least_squares() -> None:
    """Slope and scatter are those of a general least-squares solver."""
    ground = scattered(40, rough())
    matrix = np.column_stack([np.ones(40), ground.east, ground.north])
    (_level, rise_east, rise_north), rest, *_ = np.linalg.lstsq(matrix, ground.level)
    plane = ground.mean_plane()
    assert plane.slope == pytest.approx(math.hypot(rise_east, rise_north), rel=1e-9)
    assert plane.rms == pytest.approx(math.sqrt(rest[0] / 40), rel=1e-9)


def test_ground_refuses_to_be_without_triangles() -> None:
    """No triangle, no ground."""
    with pytest.raises(GroundError, match="no ground"):
        Ground(np.zeros(2), np.zeros(3), np.zeros(3), np.zeros(3), np.zeros((0, 3), dtype=np.int32), "raster")


def test_ground_cannot_be_written_to() -> None:
    """Arrays of a ground are closed, so that buckets and volumes stay true."""
    ground = ground_of_three()
    with pytest.raises(ValueError, match="read-only"):
        ground.level[0] = 99.0


def test_ground_prints_what_it_is() -> None:
    """One line: kind, points, triangles, extent and levels."""
    assert str(ground_of_three()) == "triangulated shots: 3 points, 1 triangle, 4.0 m by 3.0 m, levels 1.000 to 3.000 m"


def test_every_triangle_stands_in_each_bucket_it_touches() -> None:
    """A bucket lists all triangles that have a point in it."""
    ground = lattice(lambda east, north: east + north, half=6.0, cell=0.5)
    index = ground.index
    random = np.random.default_rng(5)
    points = random.uniform(-6, 6, (400, 2))
    for east, north in points:
        bucket = int(index.row(np.array([north]))[0] * index.columns + index.column(np.array([east]))[0])
        listed = set((index.entry[index.start[bucket] : index.start[bucket + 1]] // 4).tolist())
        corner_east, corner_north = ground.east[ground.triangles], ground.north[ground.triangles]
        around = (corner_east.min(1) <= east) & (east <= corner_east.max(1))
        around &= (corner_north.min(1) <= north) & (north <= corner_north.max(1))
        assert set(np.flatnonzero(around).tolist()) <= listed
    assert len(index.entry) < 4 * ground.triangle_count


def test_buckets_stay_few_when_the_yard_is_very_long() -> None:
    """A strip 2 km long and 1 m wide does not end in millions of buckets."""
    east = np.repeat(np.arange(201) * 10.0, 2)
    ground = triangulate_shots(shots_of(east, np.tile([0.0, 1.0], 201), np.zeros(402)))
    assert ground.index.columns * ground.index.rows < 50_000
    np.testing.assert_allclose(ground.level_at(np.array([[1999.5, 0.5], [3.0, 0.9]])), 0.0, atol=1e-12)


def test_one_triangle_is_not_said_in_the_plural() -> None:
    """Three shots make one triangle, four make two."""
    corners = np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]])
    one = Ground(np.zeros(2), *corners[:3].T, np.zeros(3), np.array([[0, 1, 2]], dtype=np.int32), "shots")
    two = Ground(np.zeros(2), *corners.T, np.zeros(4), np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32), "shots")
    assert one.size_words == "3 points, 1 triangle"
    assert two.size_words == "4 points, 2 triangles"
