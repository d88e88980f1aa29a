"""The worst deviation under a straight-edge, in closed form and against sampling."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from spadework.fieldcheck import under_straight_edge
from spadework.fieldcheck.surface import surface_of
from spadework.ground import Ground
from spadework.readings import FloatArray


def net(levels: FloatArray, cell: float = 0.5) -> Ground:
    """A surface over a grid of levels, first axis north, points named by row and column."""
    north, east = np.indices(levels.shape)
    names = [f"{row},{column}" for row, column in zip(north.ravel(), east.ravel(), strict=True)]
    surface = surface_of(np.column_stack([east.ravel(), north.ravel()]) * cell, levels.ravel(), names)
    assert surface is not None
    return surface


def test_deviation_is_none_when_the_surface_is_plane() -> None:
    """Under a straight-edge on a plane, however tilted, there is nothing."""
    north, east = np.indices((5, 7))
    found = under_straight_edge(net(0.02 * east - 0.05 * north), 2.0)
    assert found is not None
    assert found.deviation == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("off", "kind"), [(0.012, "hump"), (-0.012, "hollow")])
def test_one_point_is_off(off: float, kind: str) -> None:
    """One point off by 12 mm in a plane is a hump or a hollow of 12 mm between its neighbours, and no more."""
    levels = np.zeros((5, 5))
    levels[2, 2] = off
    found = under_straight_edge(net(levels), 1.0)
    assert found is not None
    assert found.deviation == pytest.approx(off, abs=1e-12), kind
    assert (found.east, found.north) == pytest.approx((1.0, 1.0))


def test_straight_edge_reaches_no_farther_than_its_length() -> None:
    """On a cylinder z = k x²/2 the mid-ordinate under a chord of length L is k L²/8; points are 0.5 m apart."""
    north, east = np.indices((3, 13)) * 0.5
    curvature = 0.01
    surface = net(curvature * east**2 / 2 + 0 * north)
    for length in (1.0, 2.0, 3.0, 6.0):
        found = under_straight_edge(surface, length)
        assert found is not None
        assert found.deviation == pytest.approx(-curvature * length**2 / 8, abs=1e-12)


def test_nothing_is_said_when_no_point_lies_between() -> None:
    """With points 1.2 m apart a straight-edge of 1.5 m has nothing between the points that it lies on."""
    assert under_straight_edge(net(np.zeros((3, 3)), 1.2), 1.1) is None


def test_twist_counts_when_only_corners_are_measured() -> None:
    """One corner of a square up by 20 mm: the diagonals pass 10 mm apart, whichever of them the triangles follow."""
    for corner in range(4):
        levels = np.zeros(4)
        levels[corner] = 0.02
        found = under_straight_edge(net(levels.reshape(2, 2), 1.0), 2.0)
        assert found is not None
        assert abs(found.deviation) == pytest.approx(0.01, abs=1e-12)


def test_point_counts_when_a_little_beside_the_line() -> None:
    """A point taped 10 mm inside the edge between its neighbours is compared with the straight-edge along the edge."""
    points = np.array([[0.0, 0.0], [1.0, 0.01], [2.0, 0.0], [0.0, 2.0], [1.0, 2.0], [2.0, 2.0]])
    surface = surface_of(points, np.array([0.0, -0.03, 0.0, 0.0, 0.0, 0.0]), list("ABCDEF"))
    assert surface is not None
    found = under_straight_edge(surface, 2.0)
    assert found is not None
    # The plane through all six points tilts by 5 mm a metre, which over 10 mm is 0.05 mm.
    assert found.deviation == pytest.approx(-0.03, abs=1e-4)
    assert {found.start, found.end} == {"A", "C"}


def sampled(surface: Ground, length: float) -> float:
    """The worst deviation by laying the straight-edge between all points and looking at 400 places under each."""
    place = np.column_stack([surface.east, surface.north])
    share = np.linspace(0, 1, 401)[1:-1]
    worst = 0.0
    for one, other in itertools.combinations(range(len(place)), 2):
        if np.hypot(*(place[other] - place[one])) <= length:
            along = place[one] + share[:, None] * (place[other] - place[one])
            level = surface.level_at(along + surface.origin)
            chord = surface.level[one] + share * (surface.level[other] - surface.level[one])
            worst = max(worst, float(np.nanmax(np.abs(level - chord))))
    return worst


@pytest.mark.parametrize("seed", range(4))
def test_worst_equals_that_found_by_sampling(seed: int) -> None:
    """On scattered points the exact worst is never under what sampling finds, and hardly over it."""
    random = np.random.default_rng(seed)
    points = np.vstack([[[0, 0], [4, 0], [4, 3], [0, 3]], random.uniform([0.2, 0.2], [3.8, 2.8], (16, 2))])
    surface = surface_of(points, random.normal(0, 0.01, 20))
    assert surface is not None
    found = under_straight_edge(surface, 2.0)
    assert found is not None
    expected = sampled(surface, 2.0)
    assert expected - 1e-12 <= abs(found.deviation)
    beside = 0.006  # a measured point up to 50 mm beside the line counts for itself, which sampling does not know
    assert abs(found.deviation) <= expected + beside
