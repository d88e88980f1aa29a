"""Hollows where water stands."""

import numpy as np
import pytest

from grounds import lattice, rough, scattered
from spadework.ground import Ground
from spadework.ground.hollows import find_hollows, under_water


def test_no_hollow_on_a_plane_or_a_hill() -> None:
    """Water runs off both."""
    assert find_hollows(scattered(100, lambda east, north: 5 + 0.02 * east - 0.01 * north)) == ()
    assert find_hollows(lattice(lambda east, north: -np.hypot(east, north), 5, 0.5)) == ()


def test_pyramid_pit_holds_what_the_closed_form_says() -> None:
    """A square pit, 4 m wide and 0.5 m deep in level ground: 16 m² of water, a third of area times depth."""
    east = np.array([-2, 2, 2, -2, 0, -9, 9, 9, -9], dtype=float)
    north = np.array([-2, -2, 2, 2, 0, -9, -9, 9, 9], dtype=float)
    level = np.array([1, 1, 1, 1, 0.5, 1, 1, 1, 1], dtype=float)
    triangles = [[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4], [5, 1, 0], [5, 6, 1], [6, 2, 1], [6, 7, 2], [7, 3, 2]]
    triangles += [[7, 8, 3], [8, 0, 3], [8, 5, 0]]
    (hollow,) = find_hollows(Ground(np.zeros(2), east, north, level, np.array(triangles), "drawn"))
    assert (hollow.east, hollow.north, hollow.bottom, hollow.spill) == (0, 0, 0.5, 1)
    assert hollow.area == pytest.approx(16)
    assert hollow.volume == pytest.approx(16 * 0.5 / 3)
    assert hollow.depth == 0.5


@pytest.mark.parametrize("cell", [0.5, 0.25])
def test_cone_pit_nears_the_cone_at_second_order(cell: float) -> None:
    """A pit z = r / 10 within a square of 20 m fills to level 1: π r² and a third of it times the depth."""
    (hollow,) = find_hollows(lattice(lambda east, north: np.hypot(east, north) / 10, 10, cell))
    assert hollow.area == pytest.approx(np.pi * 100, rel=0.01 * cell**2)
    assert hollow.volume == pytest.approx(np.pi * 100 / 3, rel=0.01 * cell**2)


def test_water_runs_over_at_the_lowest_gap() -> None:
    """A bowl with a notch in its wall fills to the notch."""

    def bowl(east: np.ndarray, north: np.ndarray) -> np.ndarray:
        level = np.minimum(np.hypot(east, north) / 5, 1.0)
        return np.where((np.abs(north) < 0.1) & (east > 0), np.minimum(level, 0.6), level)

    (hollow,) = find_hollows(lattice(bowl, 8, 0.5))
    assert hollow.spill == pytest.approx(0.6)


def test_water_is_that_of_a_fine_grid_flooded_by_brute_force() -> None:
    """All water together: on points 50 mm apart, levels lowered until nothing changes; areas and volumes to 3 %."""
    ground = scattered(80, rough(3), wide=12, long=12)
    found = find_hollows(ground, shallowest=0.0)
    assert len(found) > 4
    step = 0.05
    east, north = np.meshgrid(np.arange(0, 12 + step / 2, step), np.arange(0, 12 + step / 2, step))
    level = ground.level_at(np.column_stack([east.ravel(), north.ravel()])).reshape(east.shape)
    water = np.full(level.shape, np.inf)
    water[0], water[-1], water[:, 0], water[:, -1] = level[0], level[-1], level[:, 0], level[:, -1]
    while True:
        near = np.pad(water, 1, constant_values=np.inf)
        lowest = np.minimum.reduce(
            [near[1 + i : near.shape[0] - 1 + i, 1 + j : near.shape[1] - 1 + j] for i in (-1, 0, 1) for j in (-1, 0, 1)]
        )
        lowered = np.minimum(water, np.maximum(level, lowest))
        if (lowered == water).all():
            break
        water = lowered
    assert sum(hollow.volume for hollow in found) == pytest.approx((water - level).sum() * step**2, rel=0.03)
    assert sum(hollow.area for hollow in found) == pytest.approx((water > level).sum() * step**2, rel=0.03)


def test_share_under_water_is_that_of_many_points() -> None:
    """Closed forms against points spread over one triangle, for one, two and three corners under water."""
    random = np.random.default_rng(8)
    share = random.dirichlet([1, 1, 1], 400_000)
    for depth in ([-1.0, -0.5, 0.7], [-0.4, 0.2, 0.9], [0.1, 0.3, 0.5], [-1.0, -0.2, -0.1]):
        water = share @ np.array(depth)
        area, volume = under_water(np.array([2.0]), np.array([depth]))
        assert area == pytest.approx(2 * (water > 0).mean(), abs=0.006)
        assert volume == pytest.approx(2 * np.maximum(water, 0).mean(), abs=0.004)
