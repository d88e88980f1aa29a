"""Hollows: where water stands because every way out of the ground leads uphill first, how deep and how much."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field

import numpy as np

from spadework.ground.sides import inner_sides
from spadework.ground.surface import Ground
from spadework.readings import FloatArray, IntArray

__all__ = ["Hollow", "find_hollows", "links", "under_water"]

SHALLOWEST = 0.02
"""Water less deep than this soaks away: a judgement. [m]"""


@dataclass(frozen=True, slots=True)
class Hollow:
    """A place from which water does not run off.

    Parameters
    ----------
    east, north, bottom : float
        Its lowest point, in site axes. [m]
    spill : float
        Level at which water runs over. [m]
    area : float
        Water surface when full. [m²]
    volume : float
        Water when full. [m³]
    flooded : array, shape (k, 2)
        Corners of the ground under water then, in site axes. [m]
    """

    east: float
    north: float
    bottom: float
    spill: float
    area: float
    volume: float
    flooded: FloatArray = field(default_factory=lambda: np.zeros((0, 2)), repr=False, compare=False)

    @property
    def depth(self) -> float:
        """Greatest depth of the water. [m]"""
        return self.spill - self.bottom


def find_hollows(ground: Ground, *, shallowest: float = SHALLOWEST) -> tuple[Hollow, ...]:
    """Return the hollows of a ground, the one that holds most water first. Water may leave over every rim.

    The level that water rises to at a corner is the least, over all ways to the rim, of the highest corner on the way;
    on plane triangles such a way may keep to their sides. Area and volume follow in closed form. Source: R. Barnes,
    C. Lehman and D. Mulla, "Priority-flood: an optimal depression-filling and watershed-labeling algorithm for digital
    elevation models", *Computers & Geosciences* 62 (2014), https://doi.org/10.1016/j.cageo.2013.04.024.

    Parameters
    ----------
    ground : Ground
        Any; a window about a pad of a large raster.
    shallowest : float
        Hollows less deep than this are left out. [m]
    """
    water = _water_level(ground)
    under = water > ground.height + 1e-12
    if not under.any():
        return ()
    pool = _pools(ground, under)
    found = []
    for number in range(int(pool.max()) + 1):
        corner = np.flatnonzero(pool == number)
        spill = float(water[corner[0]])
        lowest = int(corner[ground.height[corner].argmin()])
        if spill - ground.height[lowest] < shallowest:
            continue
        touched = (pool[ground.triangles] == number).any(axis=1)
        area, volume = under_water(ground.triangle_areas[touched], spill - ground.height[ground.triangles[touched]])
        found.append(
            Hollow(
                float(ground.east[lowest] + ground.origin[0]),
                float(ground.north[lowest] + ground.origin[1]),
                float(ground.level[lowest]),
                spill + ground.datum,
                area,
                volume,
                np.column_stack([ground.east[corner], ground.north[corner]]) + ground.origin,
            )
        )
    return tuple(sorted(found, key=lambda hollow: -hollow.volume))


def under_water(area: FloatArray, depth: FloatArray) -> tuple[float, float]:
    """Return the area where triangles are under water and the water above them, in closed form.

    A triangle with one corner at depth d under water has the part ``d² / ((d - d₁) (d - d₂))`` of its area under water,
    a pyramid of height d upon it; with one corner out of the water, the same part is missing.

    Parameters
    ----------
    area : array, shape (t,)
        Plan areas. [m²]
    depth : array, shape (t, 3)
        Water level less level of each corner. [m]
    """
    low, middle, high = np.sort(depth, axis=1).T  # high is the deepest corner
    with np.errstate(divide="ignore", invalid="ignore"):
        one = high**2 / ((high - middle) * (high - low))
        out = low**2 / ((middle - low) * (high - low))
    mean = (low + middle + high) / 3
    share = np.select([low >= 0, middle >= 0, high > 0], [1.0, 1 - out, one], 0.0)
    volume = np.select([low >= 0, middle >= 0, high > 0], [mean, mean - out * low / 3, one * high / 3], 0.0)
    return float(area @ share), float(area @ volume)


def links(ground: Ground) -> tuple[IntArray, IntArray]:
    """Return where each corner's list of neighbours begins, and the lists.

    Parameters
    ----------
    ground : Ground
        Any.
    """
    ends = np.concatenate([ground.triangles[:, [0, 1]], ground.triangles[:, [1, 2]], ground.triangles[:, [2, 0]]])
    both = np.unique(np.concatenate([ends, ends[:, ::-1]]).astype(np.int64), axis=0)
    return np.searchsorted(both[:, 0], np.arange(len(ground.level) + 1)), both[:, 1]


def _water_level(ground: Ground) -> FloatArray:
    """Return the level that water rises to at each corner, above the datum, shape (n,). [m]"""
    start, near = (part.tolist() for part in links(ground))
    height = ground.height.tolist()
    water = [float("inf")] * len(height)
    heap = []
    for corner in _rim_corners(ground).tolist():
        water[corner] = height[corner]
        heap.append((height[corner], corner))
    heapq.heapify(heap)
    while heap:
        level, corner = heapq.heappop(heap)
        for other in near[start[corner] : start[corner + 1]]:
            if water[other] == float("inf"):
                water[other] = max(level, height[other])
                heapq.heappush(heap, (water[other], other))
    known = np.array(water)
    return np.where(np.isfinite(known), known, ground.height)


def _rim_corners(ground: Ground) -> IntArray:
    """Return the corners at the ends of sides that belong to one triangle only."""
    count = len(ground.level)
    ends = np.concatenate([ground.triangles[:, [0, 1]], ground.triangles[:, [1, 2]], ground.triangles[:, [2, 0]]])
    key = ends.min(axis=1).astype(np.int64) * count + ends.max(axis=1)
    alone, times = np.unique(key, return_counts=True)
    alone = alone[times == 1]
    return np.unique(np.concatenate([alone // count, alone % count]))


def _pools(ground: Ground, under: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> IntArray:
    """Return the number of the pool that each corner lies in, -1 for dry ones."""
    from scipy.sparse import coo_array  # noqa: PLC0415 -- 0.3 s of import that reading a level book does not need
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415 -- the same

    side, _, _ = inner_sides(len(ground.level), ground.triangles)
    wet = side[under[side].all(axis=1)]
    links = coo_array((np.ones(len(wet)), (wet[:, 0], wet[:, 1])), shape=(len(under), len(under)))
    _, group = connected_components(links, directed=False)
    numbers = np.full(len(under), -1)
    _, numbers[under] = np.unique(group[under], return_inverse=True)
    return numbers.astype(np.int64)
