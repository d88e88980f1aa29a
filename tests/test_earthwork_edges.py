"""The ground along the sides of a pad, and its mean slope."""

import math

import numpy as np
import pytest

from grounds import lattice, rough, scattered
from spadework.earthwork import LevelRule, edge_profile, mean_slope, pad_levels_batch
from spadework.errors import PlacementError
from spadework.pad import Pad, Placement


@pytest.mark.parametrize("shift", [(0.0, 0.0), (500_000.0, -200_000.0)])
def test_profile_is_the_ground_at_and_between_breaks(shift: tuple[float, float]) -> None:
    """Anywhere along a side the straight line between breaks is the level of the ground there."""
    ground, pad = scattered(200, rough(), shift=shift), Pad.rectangle(6, 4)
    for bearing in (0.0, 33.0, 90.0, 211.0):
        placement = Placement(15.0 + shift[0], 20.0 + shift[1], bearing, 0.0)
        corners = placement.corners(pad)
        sides = edge_profile(ground, pad, placement)
        assert [side.name for side in sides] == ["AB", "BC", "CD", "DA"]
        for i, side in enumerate(sides):
            assert (np.diff(side.distance) > 0).all()
            assert (side.distance[0], side.length) == pytest.approx((0.0, pad.sides[i]))
            share = np.linspace(0, 1, 97)[:, None]
            points = corners[i] + share * (corners[(i + 1) % 4] - corners[i])
            np.testing.assert_allclose(
                side.level_at(share[:, 0] * side.length), ground.level_at(points), rtol=0, atol=1e-8
            )


def test_breaks_lie_where_the_side_crosses_triangle_sides() -> None:
    """Along a lattice of 0.5 m, halved by diagonals, a side parallel to it breaks at every line and every diagonal."""
    ground = lattice(lambda east, north: np.sin(3 * east) * np.cos(2 * north), half=4, cell=0.5)
    pad = Pad.rectangle(2, 2)
    side = edge_profile(ground, pad, Placement(1.1, 1.2, 0.0, 0.0))[0]  # A to B runs north, 0.1 m east of a line
    crossings = sorted(
        [n for n in np.arange(0.5, 2.5, 0.5) if 0.2 < n < 2.2]
        + [n for n in np.arange(-0.4, 3, 0.5) if 0.2 < n < 2.2]  # diagonals run north-east: north = east + n cells
    )
    assert side.distance[1:-1] == pytest.approx([n - 0.2 for n in crossings], abs=1e-12)


def test_lowest_and_highest_edge_are_those_of_the_kernel() -> None:
    """Two ways to the ground along the edge."""
    ground, pad = scattered(250, rough()), Pad.rectangle(5, 3)
    poses = np.random.default_rng(3).uniform([4, 4, 0], [26, 36, 360], (50, 3))
    found = pad_levels_batch(ground, pad, poses, LevelRule())
    for i, pose in enumerate(poses):
        sides = edge_profile(ground, pad, Placement(*pose, 0.0))
        assert min(side.lowest for side in sides) == pytest.approx(found.edge_low[i], abs=1e-12)
        assert max(side.highest for side in sides) == pytest.approx(found.edge_high[i], abs=1e-12)


def test_a_side_along_the_rim_is_on_the_ground() -> None:
    """A pad as large as the ground has profiles all round."""
    ground = lattice(lambda east, north: east + 2 * north, half=2, cell=0.5)
    for bearing in (0.0, 90.0):
        sides = edge_profile(ground, Pad.rectangle(4, 4), Placement(0, 0, bearing, 0))
        assert min(side.lowest for side in sides) == pytest.approx(-6)
        assert max(side.highest for side in sides) == pytest.approx(6)


def test_a_side_that_leaves_the_ground_is_named_with_where() -> None:
    """Side, from and to, and what to do."""
    ground = lattice(lambda east, north: east * north, half=2, cell=0.5)
    with pytest.raises(PlacementError, match=r"Side AB .* from 2\.50 m to 3\.00 m .*take shots there"):
        edge_profile(ground, Pad.rectangle(3, 1), Placement(0.0, 1.0, 0.0, 0.0))


@pytest.mark.parametrize("bearing", [0.0, 17.0, 133.0])
def test_mean_slope_of_a_plane_is_its_own(bearing: float) -> None:
    """Rising 0.06 east and 0.08 north it falls 0.1 at 180 + atan(3/4) degrees."""
    ground = scattered(80, lambda east, north: 9 + 0.06 * east + 0.08 * north)
    slope, aspect = mean_slope(ground, Pad.rectangle(5, 3), Placement(15, 20, bearing, 0))
    assert slope == pytest.approx(0.1, abs=1e-12)
    assert aspect == pytest.approx(180 + math.degrees(math.atan2(3, 4)), abs=1e-9)


def test_mean_slope_is_the_mean_gradient_under_the_pad() -> None:
    """Against the mean of slopes sampled over the pad by small differences."""
    ground, pad, placement = scattered(150, rough()), Pad.rectangle(5, 3), Placement(15, 20, 40, 0)
    share = (np.arange(300) + 0.5) / 300 - 0.5
    u, v = np.meshgrid(share * 5, share * 3)
    points, step = placement.to_site(np.stack([u.ravel(), v.ravel()], axis=1)), 1e-5
    rise = [
        float((ground.level_at(points + offset) - ground.level_at(points - offset)).mean()) / (2 * step)
        for offset in (np.array([step, 0]), np.array([0, step]))
    ]
    slope, aspect = mean_slope(ground, pad, placement)
    assert slope == pytest.approx(math.hypot(*rise), rel=0.01)
    assert aspect == pytest.approx(math.degrees(math.atan2(-rise[0], -rise[1])) % 360, abs=1.0)
