"""Shots joined by triangles."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spadework.errors import GroundError
from spadework.ground.breaklines import Breakline, named_breakline, net_of, vertex_shots
from spadework.ground.checks import check_shots
from spadework.ground.constrained import constrained_triangles
from spadework.ground.flats import turn_flats
from spadework.ground.index import TriangleArray
from spadework.ground.sides import counter_clockwise, level_diagonals
from spadework.ground.surface import Ground, local_origin
from spadework.readings import FloatArray
from spadework.shots import Shots, join_shots
from spadework.units import LengthUnit

__all__ = ["level_diagonals", "triangulate_shots"]


def triangulate_shots(
    shots: Shots,
    *,
    breaklines: Sequence[Breakline | Sequence[str]] = (),
    accept_outliers: Sequence[str] = (),
    unit: LengthUnit = LengthUnit.METRE,
) -> Ground:
    """Join shots by the triangles of Delaunay's rule: no shot inside the circle through the corners of a triangle.

    Where four shots lie on one circle, as in every cell of a taped grid, the rule leaves the diagonal open; the one
    whose ends differ less in level is taken, so that moving or turning the site changes nothing. Breaklines are sides
    of triangles whatever the rule says. Shots taken along contours leave triangles that are flat across every bend of
    a contour; those are turned to run from one contour to the next.

    Parameters
    ----------
    shots : Shots
        Points with a position and a level; see `check_shots` for what is refused.
    breaklines : sequence of Breakline, or of sequence of str
        Lines along which the ground bends; as names of shots, or with places and levels of their own.
    accept_outliers : sequence of str
        Names of shots whose level is right however far it is from its neighbours.
    unit : LengthUnit
        The user's unit, for messages.

    Returns
    -------
    Ground

    Raises
    ------
    GroundError
        If the shots do not describe a ground, or a breakline has no level, or crosses another at a different level.
    """
    lines = [line if isinstance(line, Breakline) else named_breakline(shots, line) for line in breaklines]
    vertices = vertex_shots(lines, shots) if lines else None
    checked = check_shots(
        join_shots([shots, vertices]) if vertices else shots, accept_outliers=accept_outliers, unit=unit
    )
    origin = local_origin(checked.east, checked.north)
    east, north, level = checked.east - origin[0], checked.north - origin[1], checked.level
    notices, names = checked.notices, checked.point
    kept: TriangleArray = np.zeros((0, 2), dtype=np.int32)
    if lines:
        net = net_of(lines, checked.east, checked.north, level, unit=unit)
        east, north, level, kept = net.east - origin[0], net.north - origin[1], net.level, net.sides
        names, notices = (*names, *("",) * (len(east) - len(names))), (*notices, *net.notices)
        _, triangles = constrained_triangles(east, north, kept)
    else:
        triangles = _plain_triangles(checked.point, east, north)
    triangles = counter_clockwise(east, north, triangles)
    triangles = level_diagonals(east, north, level, triangles, kept)
    triangles, turned = turn_flats(east, north, level, triangles, kept)
    if turned:
        notices = (*notices, turned)
    shot_count = int((checked.row < len(shots)).sum()) if lines else None
    return Ground(
        origin, east, north, level, triangles, "triangulated shots", names, notices, kept=kept, shot_count=shot_count
    )


def _plain_triangles(names: Sequence[str], east: FloatArray, north: FloatArray) -> TriangleArray:
    """Return the Delaunay triangles of places without lines between them."""
    from scipy.spatial import Delaunay  # noqa: PLC0415 -- 0.5 s of import that reading a level book does not need

    net = Delaunay(np.column_stack([east, north]))
    if len(net.coplanar):
        lost = ", ".join(names[i] for i in net.coplanar[:, 0])
        raise GroundError(f"The triangulation leaves out {lost}: too near another shot. Take one of the two out.")
    corners: TriangleArray = net.simplices.astype(np.int32)
    return corners
