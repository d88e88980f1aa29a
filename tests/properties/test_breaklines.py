"""Whatever breaklines are drawn, all their sides are sides of triangles, and nothing is lost or doubled."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from grounds import shots_of
from spadework.ground import triangulate_shots
from spadework.ground.breaklines import Breakline


def _sides(triangles: np.ndarray) -> set[tuple[int, int]]:
    ends = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    return set(map(tuple, np.sort(ends, axis=1).tolist()))


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1), count=st.integers(8, 60), lines=st.integers(1, 6), shift=st.sampled_from([0, 5e5])
)
def test_all_sides_of_breaklines_are_kept(seed: int, count: int, lines: int, shift: float) -> None:
    """Random lines, crossing one another, over shots of a plane: sides kept, hull filled once, plane reproduced."""
    random = np.random.default_rng(seed)
    place = random.uniform(0, 30, (count, 2)) + shift

    def plane(at: np.ndarray) -> np.ndarray:
        return 50 + 0.05 * (at[:, 0] - shift) - 0.03 * (at[:, 1] - shift)

    drawn = []
    for number in range(lines):
        at = random.uniform(0, 30, (int(random.integers(2, 5)), 2)) + shift
        drawn.append(Breakline(f"L{number}", at[:, 0], at[:, 1], plane(at)))
    ground = triangulate_shots(shots_of(*place.T, plane(place)), breaklines=drawn)
    assert {tuple(sorted(pair)) for pair in ground.kept.tolist()} <= _sides(ground.triangles)
    corners = np.column_stack([ground.east, ground.north])
    hull = shapely.MultiPoint(corners).convex_hull
    assert ground.area == pytest.approx(hull.area, rel=1e-9)
    assert (ground.triangle_areas > 0).all()
    # Every drawn line lies on kept sides: their length along it is the line's own.
    kept = shapely.MultiLineString([corners[pair] for pair in ground.kept.tolist()])
    for one in drawn:
        whole = shapely.LineString(one.places - ground.origin)
        assert kept.buffer(0.011).contains(whole)
    tried = random.uniform(0, 30, (40, 2)) + shift
    level = ground.level_at(tried)
    there = np.isfinite(level)
    # Corners within 10 mm are joined: a level may move by the slope over that.
    assert np.abs(level - plane(tried))[there].max(initial=0) < 1e-3


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_no_shot_lies_in_the_circle_of_a_triangle_that_can_see_it(seed: int) -> None:
    """Delaunay's rule with lines: a shot inside the circle of a triangle has a kept side between."""
    random = np.random.default_rng(seed)
    place = random.uniform(0, 30, (25, 2))
    names = [f"S{i + 1}" for i in random.permutation(25)[:2]]
    ground = triangulate_shots(shots_of(*place.T, random.uniform(0, 1, 25)), breaklines=[names])
    corners = np.column_stack([ground.east, ground.north])
    wall = shapely.MultiLineString([corners[pair] for pair in ground.kept.tolist()])
    for triangle in ground.triangles:
        a, b, c = corners[triangle]
        centre = np.linalg.solve(2 * np.array([b - a, c - a]), [b @ b - a @ a, c @ c - a @ a])
        radius = np.hypot(*(a - centre))
        for other in np.flatnonzero(np.hypot(*(corners - centre).T) < radius * (1 - 1e-9)):
            sight = shapely.LineString([corners[triangle].mean(axis=0), corners[other]])
            assert sight.intersects(wall)
