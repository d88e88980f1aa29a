"""Where to heap what is kept: clear of the digging, of the boundary and of what must be kept clear of."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from spadework.placement import Limits
from spadework.placement.land import keep_out_shape, land_shape
from spadework.readings import FloatArray
from spadework.units import FOOT

__all__ = ["Heap", "find_heaps", "heap_radius"]

CLEAR_OF_DIGGING = 2 * FOOT
"""29 CFR 1926.651(j)(2): soil and gear at least 2 ft back from the edge of an excavation. [m]"""
HEAP_SLOPE = 1 / 1.5
"""Rise over run of a heap of loose soil, 1 in 1.5 (34°, dry sand: USBR Hyd-299). Flatter when wet. [m/m]"""
STEP = 0.25
NEARBY, REACH = 6.0, 30.0
"""How far beyond the digging places are looked for, first and at most. [m]"""


@dataclass(frozen=True, slots=True)
class Heap:
    """A heap, taken as a cone.

    Parameters
    ----------
    name : str
        What is in it: ``topsoil`` or ``soil left over``.
    east, north : float
        Its middle. [m]
    radius : float
        Of its foot. [m]
    volume : float
        Loose. [m³]
    """

    name: str
    east: float
    north: float
    radius: float
    volume: float

    @property
    def height(self) -> float:
        """Of its tip. [m]"""
        return self.radius * HEAP_SLOPE


def heap_radius(volume: float) -> float:
    """Return the radius of the foot of a cone of loose soil: ``V = π r² (r s) / 3``, so ``r = (3 V / π s)^⅓``. [m]"""
    return math.cbrt(3.0 * volume / (math.pi * HEAP_SLOPE))


def find_heaps(
    outline: FloatArray, limits: Limits, volumes: dict[str, float]
) -> tuple[tuple[Heap, ...], tuple[str, ...]]:
    """Find the nearest free place for each heap, the biggest first.

    A heap stands 2 ft clear of the digging, and its foot inside the boundary, off every keep-out and off other heaps.

    Parameters
    ----------
    outline : array, shape (n, 2)
        Ring round the digging, banks included, east and north. [m]
    limits : Limits
        Boundary and keep-outs.
    volumes : dict of str to float
        Loose volume of each heap by name; those of nothing are left out. [m³]

    Returns
    -------
    heaps : tuple of Heap
        In the order of the names.
    without : tuple of str
        Names for which there is no room within 30 m.
    """
    digging = shapely.Polygon(outline)
    if not any(volume > 0.0 for volume in volumes.values()):
        return (), ()
    land = land_shape(limits.boundary) if limits.boundary else None
    taken: list[shapely.Geometry] = [keep_out_shape(k).buffer(k.clearance) for k in limits.keep_outs]
    # Most heaps find room nearby: the far places are looked at only where they are needed.
    reaches = {reach: _around(digging, reach) for reach in (NEARBY,)}
    found: dict[str, Heap] = {}
    without: list[str] = []
    for name in sorted(volumes, key=lambda key: -volumes[key]):
        volume = volumes[name]
        if volume <= 0.0:
            continue
        radius = heap_radius(volume)
        place = _nearest(reaches[NEARBY], radius, digging, land, taken)
        if place is None:
            if REACH not in reaches:
                reaches[REACH] = _around(digging, REACH)
            place = _nearest(reaches[REACH], radius, digging, land, taken)
        if place is None:
            without.append(name)
            continue
        heap = Heap(name, float(place[0]), float(place[1]), radius, volume)
        taken.append(shapely.Point(heap.east, heap.north).buffer(radius))
        found[name] = heap
    return tuple(found[name] for name in volumes if name in found), tuple(without)


def _around(digging: shapely.Polygon, reach: float) -> FloatArray:
    """Return a lattice of places around the digging, the nearest first, shape (n, 2).

    Those nearer than the rectangle's middle is to its rim, with ``reach`` added, are all there: they are the first of
    any wider lattice.
    """
    low_e, low_n, high_e, high_n = digging.bounds
    middle = np.asarray(digging.centroid.coords[0])
    axis_e = np.arange(math.floor((low_e - reach - middle[0]) / STEP), (high_e + reach - middle[0]) / STEP) * STEP
    axis_n = np.arange(math.floor((low_n - reach - middle[1]) / STEP), (high_n + reach - middle[1]) / STEP) * STEP
    places = middle + np.stack(np.meshgrid(axis_e, axis_n, indexing="ij"), axis=-1).reshape(-1, 2)
    distance = np.hypot(*(places - middle).T)
    if reach < REACH:
        whole = min(high_e - middle[0], middle[0] - low_e, high_n - middle[1], middle[1] - low_n) + reach - STEP
        places, distance = places[distance <= whole], distance[distance <= whole]
    return np.asarray(places[np.lexsort((places[:, 1], places[:, 0], np.round(distance, 6)))])


def _nearest(
    places: FloatArray,
    radius: float,
    digging: shapely.Polygon,
    land: BaseGeometry | None,
    taken: list[shapely.Geometry],
) -> FloatArray | None:
    """Return the first place where a heap of that radius stands free."""
    points = shapely.points(places)
    free = shapely.distance(points, digging) >= radius + CLEAR_OF_DIGGING
    if land is not None:
        shapely.prepare(land)
        free &= shapely.contains(land, points) & (shapely.distance(points, land.boundary) >= radius)
    for other in taken:
        free &= shapely.distance(points, other) >= radius
    rows = np.flatnonzero(free)
    return None if not len(rows) else places[rows[0]]
