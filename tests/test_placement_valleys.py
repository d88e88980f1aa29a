"""Valleys of a map: their floors and the passes between them, against surfaces known in closed form."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest

from spadework.ground import triangulate_shots
from spadework.pad import Pad
from spadework.placement import GOALS, Limits, find_placement
from spadework.placement.spot_map import SpotMap
from spadework.placement.valleys import find_valleys
from spadework.shots import Shots


def map_of(value: np.ndarray, step: float = 0.25) -> SpotMap:
    """A map with one bearing."""
    long, wide = value.shape
    return SpotMap(step * np.arange(wide), step * np.arange(long), value, np.zeros_like(value), np.zeros_like(value))


def grid(long: int = 41, wide: int = 61) -> tuple[np.ndarray, np.ndarray]:
    """East and north of the cells."""
    return np.meshgrid(0.25 * np.arange(wide), 0.25 * np.arange(long))


def test_two_bowls_meet_at_their_pass_when_one_is_dearer() -> None:
    """Bowls ``1 + r²/10`` and ``1.2 + r²/10``, 9 m apart: equal where u² = 2 + (9 - u)², so u = 83/18."""
    east, north = grid()
    up = (north - 5) ** 2
    bowls = np.minimum(1.0 + ((east - 3) ** 2 + up) / 10, 1.2 + ((east - 12) ** 2 + up) / 10)
    cheap, dear = find_valleys(map_of(bowls), 1.0)
    assert cheap.pose.tolist() == [3.0, 5.0, 0.0]
    assert cheap.value == 1.0
    assert math.isinf(cheap.rise)
    assert dear.pose.tolist() == [12.0, 5.0, 0.0]
    # The pass of the cells lies within one step of that of the surface, whose slope there is less than 1.
    assert dear.value + dear.rise == pytest.approx(1.0 + (83 / 18) ** 2 / 10, abs=0.25)


def test_a_dent_is_no_valley_when_its_way_out_hardly_rises() -> None:
    """A dent of one cell, one per cent deep, is left out; one of ten per cent is not."""
    east, north = grid()
    bowl = 1.0 + ((east - 3) ** 2 + (north - 5) ** 2) / 10
    for depth, count in ((0.01, 1), (0.10, 2)):
        dented = bowl.copy()
        about = dented[9:12, 39:42].min()
        dented[10, 40] = about * (1 - depth)
        assert len(find_valleys(map_of(dented), 1.0)) == count


def test_no_way_leads_over_what_is_not_allowed() -> None:
    """A strip that no placement may stand on parts the map: the rise out of the dearer half has no end."""
    east, north = grid()
    value = 1.0 + np.abs(east - 3) + np.abs(north - 5) / 7
    value[:, 30] = np.nan
    valleys = find_valleys(map_of(value), 1.0)
    assert len(valleys) == 2
    assert all(math.isinf(valley.rise) for valley in valleys)


def test_every_valley_is_a_cell_no_neighbour_is_below_when_the_map_is_rough() -> None:
    """On a random map: floors are local minima; the pass of each pair is the least of the highest cells on any way."""
    draw = np.random.default_rng(5)
    value = 1 + draw.uniform(size=(6, 6))
    valleys = find_valleys(map_of(value), 0.0)
    for valley in valleys:
        column, row = (valley.pose[:2] / 0.25).astype(int)
        about = value[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2]
        assert value[row, column] == about.min()
        if math.isfinite(valley.rise):
            assert valley.rise == pytest.approx(brute_rise(value, row, column))


def brute_rise(value: np.ndarray, row: int, column: int) -> float:
    """The least height to which one must go to reach a lower cell, by trying every height in turn."""
    for height in np.sort(value.ravel()):
        if height < value[row, column]:
            continue
        reached = np.zeros(value.shape, bool)
        reached[row, column] = True
        for _ in range(value.size):
            wide = np.pad(reached, 1)
            near = np.max([wide[i : i + 6, j : j + 6] for i, j in combinations([0, 1, 2, 0, 1, 2], 2)], axis=0)
            reached = (near | reached) & (value <= height)
        if value[reached].min() < value[row, column]:
            return float(height - value[row, column])
    return math.inf


def test_alternatives_are_valleys_when_the_yard_has_two() -> None:
    """Two hollows of the same shape, one a little steeper, with a ridge between: the other is the first alternative."""
    mesh = np.stack(np.meshgrid(np.arange(0, 24.1, 1.0), np.arange(0, 9.1, 1.0)), axis=-1).reshape(-1, 2)
    away = np.minimum(np.hypot(mesh[:, 0] - 5, mesh[:, 1] - 4.5), np.hypot(mesh[:, 0] - 19, mesh[:, 1] - 4.5))
    level = 10 + 0.01 * away**2 * np.where(mesh[:, 0] < 12, 1.0, 1.15)
    count = len(mesh)
    names = tuple(f"P{row}" for row in range(count))
    shots = Shots(names, *mesh.T, level, ("",) * count, np.arange(count), ("",) * count)
    found = find_placement(triangulate_shots(shots), Pad.rectangle(3.0, 3.0), Limits(), GOALS["digging"], 0.9)
    best, other = found.best.placement, found.alternatives[0]
    assert abs(best.east - 5) < 0.6
    assert any(abs(spot.placement.east - 19) < 0.6 and spot.rise is not None for spot in found.alternatives)
    valley = next(spot for spot in found.alternatives if spot.rise is not None)
    assert "a valley of its own" in valley.what_differs
    assert other.value >= found.best.value
