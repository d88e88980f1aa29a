"""Where water can stand among the measured points."""

from __future__ import annotations

import heapq
import itertools

import numpy as np
import pytest

from field_checks import check_of, grid_on, wanted_pad
from spadework.fieldcheck import hollows, standing_water
from spadework.fieldcheck.surface import surface_of
from spadework.ground import Ground
from spadework.readings import FloatArray


def net(levels: FloatArray, cell: float = 1.0) -> Ground:
    """A surface over a grid of levels, first axis north."""
    north, east = np.indices(levels.shape) * cell
    surface = surface_of(np.column_stack([east.ravel(), north.ravel()]), levels.ravel())
    assert surface is not None
    return surface


def test_water_stands_in_a_bowl() -> None:
    """A middle 30 mm below a level rim holds 30 mm."""
    levels = np.zeros((3, 3))
    levels[1, 1] = -0.03
    depth = standing_water(net(levels)).reshape(3, 3)
    assert depth[1, 1] == pytest.approx(0.03)
    assert np.count_nonzero(depth) == 1


def test_water_runs_out_at_the_lowest_place_of_the_rim() -> None:
    """With one place of the rim 20 mm down, the bowl of 30 mm holds 10 mm only."""
    levels = np.zeros((3, 3))
    levels[1, 1], levels[0, 1] = -0.03, -0.02
    assert standing_water(net(levels)).reshape(3, 3)[1, 1] == pytest.approx(0.01)


def test_water_runs_off_when_the_surface_falls() -> None:
    """On a tilted plane, on a cone and in a channel that reaches the rim none stands."""
    north, east = np.indices((5, 6))
    channel = 0.1 * np.abs(north - 2) - 0.01 * east
    for levels in (0.01 * east + 0.003 * north, -0.1 * np.hypot(east - 2.5, north - 2), channel):
        assert standing_water(net(levels)).max() == 0.0


def test_hollows_are_named_deepest_first() -> None:
    """Two bowls are named by their points, the deeper one first; a shallow one is not told from level."""
    wanted = wanted_pad()
    points = grid_on(wanted, 7, 5)
    levels = np.full(35, 100.0)
    levels[[8, 19, 26]] = [99.99, 99.985, 99.9975]
    found = check_of(wanted, points, levels).hollows
    assert found is not None
    assert [(hollow.name, round(hollow.depth, 4)) for hollow in found] == [("S20", 0.015), ("S9", 0.01)]
    assert (found[0].east, found[0].north) == pytest.approx(tuple(points[19]))


def lowest_way_out(surface: Ground) -> FloatArray:
    """Depth of water by trying, for each point, every level of a point as the level of the water: slow and obvious."""
    near = {row: set() for row in range(len(surface.level))}
    for triangle in surface.triangles.tolist():
        for one, other in itertools.permutations(triangle, 2):
            near[one].add(other)
    sides = [tuple(sorted(pair)) for t in surface.triangles.tolist() for pair in itertools.combinations(t, 2)]
    rim = {row for side in sides if sides.count(side) == 1 for row in side}
    depth = np.zeros(len(surface.level))
    for start in near:
        for level in sorted(surface.level[surface.level >= surface.level[start]]):
            reached, queue = {start}, [start]
            while queue:
                heapq.heapify(queue)
                for other in near[heapq.heappop(queue)] - reached:
                    if surface.level[other] <= level:
                        reached.add(other)
                        queue.append(other)
            if reached & rim:
                depth[start] = level - surface.level[start]
                break
    return depth


@pytest.mark.parametrize("seed", range(6))
def test_water_equals_that_of_the_obvious_way(seed: int) -> None:
    """On rough surfaces the flood gives what trying every level gives."""
    random = np.random.default_rng(seed)
    surface = net(random.normal(0, 0.02, (5, 6)))
    assert standing_water(surface) == pytest.approx(lowest_way_out(surface), abs=1e-12)
    assert len(hollows(surface, 0.0001)) == np.count_nonzero(lowest_way_out(surface) >= 0.0001)
