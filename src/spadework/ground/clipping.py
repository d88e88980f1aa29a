"""Where there is no ground although triangles would reach there: outside an outline, and in holes (a pond, a house)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from spadework.errors import GroundError
from spadework.ground.checks import SAME_PLACE
from spadework.ground.constrained import constrained_triangles
from spadework.ground.index import TriangleArray
from spadework.ground.sides import counter_clockwise
from spadework.ground.surface import Ground
from spadework.readings import FloatArray, IntArray
from spadework.shots import Shots
from spadework.units import LengthUnit, format_length

__all__ = ["clip_ground", "only_corners", "shots_inside"]


def clip_ground(
    ground: Ground,
    *,
    outline: FloatArray | None = None,
    holes: Sequence[FloatArray] = (),
    unit: LengthUnit = LengthUnit.METRE,
) -> Ground:
    """Return the ground inside an outline and outside holes; what is left keeps its levels exactly.

    Triangles that a ring passes through are cut along it, the new corners on the old planes. A corner of a ring within
    10 mm of a corner of the ground is that corner.

    Parameters
    ----------
    ground : Ground
        Any.
    outline : array, shape (k, 2), optional
        Ring in site axes outside which there is no ground; may reach beyond it. [m]
    holes : sequence of array, shape (k, 2)
        Rings in site axes inside which there is no ground. [m]
    unit : LengthUnit
        The user's unit, for messages.

    Returns
    -------
    Ground

    Raises
    ------
    GroundError
        If a ring crosses itself, or nothing is left.
    """
    rings = [*([outline] if outline is not None else []), *holes]
    for number, ring in enumerate(rings):
        ground = _cut(ground, ring, inside=outline is not None and number == 0, unit=unit)
    return ground


def shots_inside(shots: Shots, rings: Sequence[FloatArray]) -> IntArray:
    """Return the rows of shots that stand inside a ring and more than 10 mm from it: they say nothing of the ground.

    Parameters
    ----------
    shots : Shots
        Any; those without a position are nowhere.
    rings : sequence of array, shape (k, 2)
        Holes. [m]
    """
    import shapely  # noqa: PLC0415 -- 0.15 s of import that only holes need

    inside = np.zeros(len(shots), dtype=bool)
    for ring in rings:
        inner = shapely.Polygon(ring).buffer(-SAME_PLACE)
        inside |= shapely.contains_xy(inner, shots.east, shots.north)
    return np.flatnonzero(inside)


def only_corners(ground: Ground, triangles: TriangleArray) -> Ground:
    """Return a ground of some triangles, without the corners that none of them uses.

    Parameters
    ----------
    ground : Ground
        Whose corners they name.
    triangles : array of int32, shape (t, 3)
        At least one.
    """
    used = np.zeros(len(ground.level), dtype=bool)
    used[triangles.ravel()] = True
    number = np.cumsum(used, dtype=np.int32) - np.int32(1)
    kept = ground.kept[used[ground.kept].all(axis=1)] if len(ground.kept) else ground.kept
    shot_count = len(used) if ground.shot_count is None else ground.shot_count
    return replace(
        ground,
        east=ground.east[used],
        north=ground.north[used],
        level=ground.level[used],
        triangles=number[triangles],
        names=tuple(name for name, there in zip(ground.names, used.tolist(), strict=True) if there)
        if ground.names
        else (),
        kept=number[kept],
        shot_count=None if ground.shot_count is None and used.all() else int(used[:shot_count].sum()),
    )


def _cut(ground: Ground, ring: FloatArray, *, inside: bool, unit: LengthUnit) -> Ground:
    """Return the ground inside a ring, or outside it."""
    import shapely  # noqa: PLC0415 -- 0.15 s of import that only holes need
    from scipy.spatial import cKDTree  # noqa: PLC0415 -- 0.3 s of import that reading a level book does not need

    places = np.column_stack([ground.east, ground.north])
    local = np.asarray(ring, dtype=np.float64) - ground.origin
    away, near = (np.asarray(part) for part in cKDTree(places).query(local))
    local = np.where((away <= SAME_PLACE)[:, None], places[near], local)
    area = shapely.Polygon(local)
    if not area.is_valid or area.area <= 0:
        raise GroundError(
            f"A ring of {len(ring)} corners around east {format_length(ring[0][0], unit)}, north "
            f"{format_length(ring[0][1], unit)} encloses no "
            f"area or crosses itself ({shapely.is_valid_reason(area)}). Name its corners in order."
        )
    met = _met(ground, area.exterior)
    middle = places[ground.triangles].mean(axis=1)
    within: npt.NDArray[np.bool_] = shapely.contains_xy(area, middle[:, 0], middle[:, 1])
    whole = ground.triangles[~met & (within if inside else ~within)]
    if met.any():
        ground, pieces = _pieces(ground, ground.triangles[met], local, np.where(away <= SAME_PLACE, near, -1))
        centre = np.column_stack([ground.east, ground.north])[pieces].mean(axis=1)
        held = shapely.contains_xy(area, centre[:, 0], centre[:, 1])
        whole = np.concatenate([whole, pieces[held if inside else ~held]])
    if not len(whole):
        raise GroundError(
            "No ground is left: the outline or the holes take all of it. Check their corners, and which side is meant."
        )
    return only_corners(ground, whole)


def _met(ground: Ground, line: Any) -> npt.NDArray[np.bool_]:
    """Return which triangles a ring passes through, their sides and corners included."""
    import shapely  # noqa: PLC0415 -- as above

    places = np.column_stack([ground.east, ground.north])
    met = np.zeros(len(ground.triangles), dtype=bool)
    west, south, east, north = shapely.bounds(line)
    corner = places[ground.triangles]
    low, high = corner.min(axis=1), corner.max(axis=1)
    near = np.flatnonzero((high[:, 0] >= west) & (low[:, 0] <= east) & (high[:, 1] >= south) & (low[:, 1] <= north))
    if len(near):
        shapely.prepare(line)
        met[near] = shapely.intersects(line, shapely.polygons(corner[near]))
    return met


def _pieces(
    ground: Ground, triangles: TriangleArray, ring: FloatArray, at_corner: IntArray
) -> tuple[Ground, TriangleArray]:
    """Return the ground with the corners that a ring adds, and the pieces that it cuts triangles into.

    The sides of the triangles and the ring itself are all kept by the triangulation of the pieces: each lies in one
    triangle, on whose plane its corners lie.
    """
    used, numbered = np.unique(triangles, return_inverse=True)
    numbered = numbered.reshape(-1, 3)
    part = Ground(
        np.zeros(2),
        ground.east[used],
        ground.north[used],
        ground.level[used],
        numbered.astype(np.int32),
        ground.kind,
    )
    place_of = {int(corner): number for number, corner in enumerate(used.tolist())}
    east, north = [part.east], [part.north]
    number_of = []
    for place, corner in zip(ring.tolist(), at_corner.tolist(), strict=True):
        if corner in place_of:
            number_of.append(place_of[corner])
        else:
            number_of.append(len(used) + len(east) - 1)
            east.append(np.array([place[0]]))
            north.append(np.array([place[1]]))
    closed = np.column_stack([number_of, np.roll(number_of, -1)])
    sides = np.concatenate([numbered[:, [0, 1]], numbered[:, [1, 2]], numbered[:, [2, 0]], closed]).astype(np.int32)
    sides = sides[sides[:, 0] != sides[:, 1]]
    places, pieces = constrained_triangles(np.concatenate(east), np.concatenate(north), sides, split_crossings=True)
    pieces = counter_clockwise(places[:, 0], places[:, 1], pieces)
    new = places[len(used) :]
    level = part.level_at(new) if len(new) else np.zeros(0)
    pieces = pieces[np.isfinite(np.concatenate([part.level, level]))[pieces].all(axis=1)]
    pieces = pieces[np.isfinite(part.level_at(places[pieces].mean(axis=1)))] if len(pieces) else pieces
    first = len(ground.level)
    renumbered = np.concatenate([used, np.arange(first, first + len(new))]).astype(np.int32)
    shot_count = first if ground.shot_count is None else ground.shot_count
    grown = replace(
        ground,
        east=np.concatenate([ground.east, new[:, 0]]),
        north=np.concatenate([ground.north, new[:, 1]]),
        level=np.concatenate([ground.level, level]),
        names=(*ground.names, *("",) * len(new)) if ground.names else (),
        shot_count=shot_count,
    )
    return grown, renumbered[pieces]
