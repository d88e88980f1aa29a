"""The rim of a ground and its contours."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from grounds import lattice, rough, scattered, shots_of
from spadework.ground import Ground, triangulate_shots
from spadework.readings import FloatArray


def ring_area(ring: FloatArray) -> float:
    """Signed area, positive counter-clockwise."""
    east, north = ring.T
    return 0.5 * float(east @ np.roll(north, -1) - north @ np.roll(east, -1))


def test_outline_is_the_convex_hull_of_scattered_shots() -> None:
    """One ring, counter-clockwise, through the corners of the hull, in site axes."""
    ground = scattered(90, rough(), shift=(1000.0, -500.0))
    (ring,) = ground.outline()
    site = np.stack([ground.east, ground.north], axis=1) + ground.origin
    hull = site[ConvexHull(site).vertices]
    assert {tuple(p) for p in hull.round(6)} <= {tuple(p) for p in ring.round(6)}
    assert ring_area(ring - ground.origin) == pytest.approx(ground.area, rel=1e-12)


def test_outline_has_a_clockwise_ring_round_a_hole() -> None:
    """Areas of all rings, signed, add up to the area of the triangles."""
    whole = lattice(lambda east, _north: east * 0, half=4, cell=1)
    centre = np.stack([whole.east[whole.triangles].mean(1), whole.north[whole.triangles].mean(1)], axis=1)
    kept = whole.triangles[np.abs(centre).max(axis=1) > 1]
    ground = Ground(whole.origin, whole.east, whole.north, whole.level, kept, "raster")
    outer, hole = ground.outline()
    assert ring_area(outer) == pytest.approx(64)
    assert ring_area(hole) == pytest.approx(-4)


def test_contours_of_a_plane_are_straight_lines_at_their_level() -> None:
    """On a plane every point of a contour satisfies the plane's equation, and every line ends at the rim."""
    ground = scattered(80, lambda east, _north: 10 + 0.1 * east)
    lines = ground.contours(0.5)
    assert [level for level, _ in lines] == pytest.approx([10.5, 11.0, 11.5, 12.0, 12.5])
    for level, line in lines:
        np.testing.assert_allclose(line[:, 0], (level - 10) / 0.1, rtol=0, atol=1e-9)
        assert sorted(line[[0, -1], 1]) == pytest.approx([0, 40], abs=1e-9)


def test_contour_points_have_the_contours_level() -> None:
    """On rough ground every point of every line is at its level."""
    ground = scattered(120, rough(), shift=(500_000.0, 100_000.0))
    lines = ground.contours([51.8, 52.0, 52.2])
    assert {level for level, _ in lines} == {51.8, 52.0, 52.2}
    for level, line in lines:
        np.testing.assert_allclose(ground.level_at(line), level, rtol=0, atol=1e-7)


def test_a_contour_round_a_hill_is_closed() -> None:
    """Below the top of a cone the line comes back to its first point, with the higher ground on its left."""
    ground = lattice(lambda east, north: 5 - np.hypot(east, north), half=5, cell=0.5)
    ((level, line),) = ground.contours([3.0])
    assert level == 3.0
    assert (line[0] == line[-1]).all()
    assert ring_area(line[:-1]) == pytest.approx(np.pi * 4, rel=0.02)  # circle of radius 2, as a polygon


def test_contours_pass_beside_corners_at_their_level() -> None:
    """Corners exactly at the level neither break a line nor double it."""
    ground = lattice(lambda east, _north: east, half=3, cell=1)
    lines = ground.contours([1.0])
    assert len(lines) == 1
    np.testing.assert_allclose(lines[0][1][:, 0], 1.0)


def test_level_ground_has_no_contours() -> None:
    """Nothing is crossed, nothing is drawn."""
    assert triangulate_shots(shots_of([0, 5, 5, 0], [0, 0, 5, 5], [2, 2, 2, 2])).contours(0.1) == []


@pytest.mark.parametrize("interval", [0.0, -1.0, 1e-9])
def test_an_interval_of_no_use_is_refused(interval: float) -> None:
    """Neither no interval nor one that gives millions of lines."""
    with pytest.raises(ValueError, match="contour interval"):
        scattered(20, rough()).contours(interval)
