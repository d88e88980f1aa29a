"""Shots joined by triangles."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from grounds import rough, scattered, shots_of
from spadework.ground import triangulate_shots


def test_triangles_fill_the_hull_when_shots_are_scattered() -> None:
    """Areas add up to that of the convex hull, and all triangles turn counter-clockwise."""
    ground = scattered(200, rough())
    assert (ground.triangle_areas > 0).all()
    hull = ConvexHull(np.stack([ground.east, ground.north], axis=1))
    assert ground.area == pytest.approx(hull.volume, rel=1e-12)  # scipy calls the area of a plane hull its volume


def test_no_shot_lies_inside_the_circle_of_a_triangle() -> None:
    """Delaunay's rule, tried for every triangle and every shot."""
    ground = scattered(60, rough())
    place = np.stack([ground.east, ground.north], axis=1)
    for triangle in ground.triangles:
        a, b, c = place[triangle]
        centre = np.linalg.solve(2 * np.array([b - a, c - a]), [b @ b - a @ a, c @ c - a @ a])
        radius = np.hypot(*(a - centre))
        assert np.hypot(*(place - centre).T).min() > radius * (1 - 1e-9)


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0, 133.0])
@pytest.mark.parametrize("shift", [0.0, 500_000.0])
def test_diagonals_of_a_taped_grid_do_not_depend_on_where_it_lies(turn: float, shift: float) -> None:
    """Each cell is halved along the diagonal whose ends differ less, however the grid is turned or moved."""
    random = np.random.default_rng(11)
    across, along = (values.ravel() for values in np.meshgrid(np.arange(6) * 1.5, np.arange(5) * 1.5))
    level = random.uniform(0, 1, len(across))
    sine, cosine = np.sin(np.radians(turn)), np.cos(np.radians(turn))
    ground = triangulate_shots(
        shots_of(shift + across * cosine + along * sine, shift + along * cosine - across * sine, level)
    )
    expected = set()
    for row in range(4):
        for column in range(5):
            a, b = row * 6 + column, row * 6 + column + 1
            c, d = a + 6, b + 6
            faces = (
                [(a, b, d), (a, d, c)]
                if abs(level[a] - level[d]) < abs(level[b] - level[c])
                else [(a, b, c), (b, d, c)]
            )
            expected |= {frozenset(face) for face in faces}
    assert {frozenset(face) for face in ground.triangles.tolist()} == expected
    assert ground.area == pytest.approx(7.5 * 6.0, rel=1e-9)


def test_names_of_the_shots_stay_with_the_corners() -> None:
    """A corner keeps the name of its shot."""
    ground = triangulate_shots(shots_of([0, 5, 5, 2], [0, 0, 5, 3], [0, 0, 1, 2], names=("gate", "tap", "oak", "step")))
    assert ground.names == ("gate", "tap", "oak", "step")
    assert ground.level[ground.names.index("step")] == 2
