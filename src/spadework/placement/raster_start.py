"""Starts for a search on the ground of a raster too large for a dense grid: its cells, scanned one and all."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from spadework.earthwork._compile import COMPILED
from spadework.ground import Ground
from spadework.placement.goal_words import value_words
from spadework.placement.goals import Goal
from spadework.placement.objective import Objective
from spadework.placement.raster_frame import NO_LEVEL, STEP, IntLevels, Lattice
from spadework.placement.raster_land import RasterLand
from spadework.placement.raster_search import scan_raster
from spadework.placement.raster_tables import HeightLimits
from spadework.placement.start import StartGrid
from spadework.readings import FloatArray
from spadework.units import LengthUnit

__all__ = ["RasterStart", "lattice_and_levels", "raster_start"]

BEARINGS = 36
MOST_BEARINGS = 90
SCANNED, STARTS = 100, 24
"""Spots of the scan, and how many of them the search starts from besides: the exact value has another order."""
THIN = 1.01
"""A grid of positions this much coarser than a quarter of the pad's short side is thin."""
OFF = 0.05
"""Corners so far from a lattice, in cells, do not lie on it."""
EVEN = Goal("cut and fill", cut=1.0, fill=1.0, unit="m³")
"""Stands for goals that a scan does not know: whatever is wanted, level ground is cheap."""


@dataclass(frozen=True)
class RasterStart:
    """What a scan of the cells gave to start from.

    Parameters
    ----------
    poses : array, shape (k, 3)
        ``east, north`` [m], ``bearing`` [deg]; allowed, best first, apart from one another. None where nothing was
        scanned.
    cells, bearings : int
        Positions scanned, and bearings at each.
    least : float
        What no pose scanned has less than, as the goal counts it over the cells; NaN where the scan went by another
        goal. [m³ or currency]
    """

    poses: FloatArray
    cells: int = 0
    bearings: int = 0
    least: float = float("nan")

    def added_to(self, start: StartGrid) -> StartGrid:
        """Return a dense start with these poses in it."""
        return replace(start, poses=np.vstack([start.poses, self.poses]))

    def sentence(self, goal: Goal, unit: LengthUnit, reserve: float) -> str:
        """Return what was scanned, to follow what else was tried; empty where nothing was."""
        if self.cells == 0:
            return ""
        text = f"; before that, all {self.cells:,} cells of the raster were scanned at {self.bearings} bearings"
        if goal.moved:
            return f"{text}, by what is dug and filled, not by how far it is carried"
        if not np.isfinite(self.least):
            return f"{text}, by cut and fill alike"
        less = " (without the soil from the trench)" if reserve > 0 else ""
        return (
            f"{text}: over the cells{less}, no pad centred on one and clear of every limit by a cell has less than "
            f"{value_words(goal, self.least, unit, 'down')}"
        )


NOTHING = RasterStart(np.zeros((0, 3)))


def raster_start(objective: Objective, grid: StartGrid) -> RasterStart:
    """Return the best spots of a raster's cells where the dense start is thin; nothing otherwise.

    Parameters
    ----------
    objective : Objective
        The exact objective. Its limits on boundary, keep-outs, depths and slope hold in the scan; the others hold for
        the poses that are returned.
    grid : StartGrid
        The dense start.
    """
    limits, pad = objective.limits, objective.pad
    shape = objective.clearance.shape
    thin = grid.step > THIN * shape.short_side / 4
    if not (thin and COMPILED and objective.ground.kind == "raster" and limits.position is None):
        return NOTHING
    if limits.finish.kind == "fixed":
        return NOTHING
    found = lattice_and_levels(objective.ground)
    if found is None or shape.short_side < max(found[0].cell):
        return NOTHING
    lattice, levels = found
    known = objective.goal.wall == 0 and pad.edge.retained and limits.finish.kind == "free"
    bearings = BEARINGS if limits.bearing.free else np.unique(grid.tested[:, 2])[:MOST_BEARINGS]
    heights = HeightLimits(
        cut_depth=np.inf if limits.cut_depth is None or not known else limits.cut_depth,
        fill_depth=np.inf if limits.fill_depth is None or not known else limits.fill_depth,
        slope=np.inf if limits.ground_slope is None else limits.ground_slope,
    )
    scan = scan_raster(
        lambda row, column, rows, columns: levels[row : row + rows, column : column + columns],
        lattice,
        pad,
        objective.goal if known else EVEN,
        objective.keep,
        bearings=bearings,
        heights=heights,
        land=_land(objective),
        count=SCANNED,
    )
    spots = scan.spots
    if len(spots) == 0:
        return NOTHING
    places = lattice.centres(spots.row.astype(np.float64), spots.column.astype(np.float64))
    poses = np.column_stack([places, scan.masks.bearings[spots.bearing]])
    values = objective.values(poses)
    order = np.argsort(values, kind="stable")
    best = order[np.isfinite(values[order])][:STARTS]
    strip = objective.goal.strip * objective.strip_volume
    least = float(spots.value[0]) + strip if known else float("nan")
    return RasterStart(poses[best], scan.positions, len(scan.masks.bearings), least)


def lattice_and_levels(ground: Ground) -> tuple[Lattice, IntLevels] | None:
    """Return the cells of a ground made from a raster, levels in whole steps; nothing where its corners are no lattice.

    Parameters
    ----------
    ground : Ground
        Its corners in order of rows, as `raster_ground` leaves them, cells without a level left out.
    """
    points = np.column_stack([ground.east, ground.north])
    steps = np.diff(points, axis=0)
    along = np.median(steps, axis=0)
    length = float(np.hypot(*along))
    if length == 0.0:
        return None
    corners = points[ground.triangles[0]]
    sides = np.roll(corners, -1, axis=0) - corners
    across = np.abs(along[0] * sides[:, 1] - along[1] * sides[:, 0])
    down = sides[int(np.argmax(across > 0.5 * across.max()))]
    down = down - np.round(down @ along / length**2) * along
    basis = np.column_stack([along, down])
    if abs(float(np.linalg.det(basis))) < 1e-9 * length**2:
        return None
    exact = np.linalg.solve(basis, (points - points[0]).T)
    whole = np.rint(exact)
    if float(np.abs(exact - whole).max()) > OFF:
        return None
    column, row = (whole - whole.min(axis=1, keepdims=True)).astype(np.int64)
    rows, columns = int(row.max()) + 1, int(column.max()) + 1
    levels = np.full((rows, columns), NO_LEVEL, dtype=np.int32)
    levels[row, column] = np.rint(ground.level / STEP).astype(np.int32)
    (a, d), (b, e) = along.tolist(), down.tolist()
    first = ground.origin + points[0] + basis @ whole.min(axis=1) - 0.5 * (along + down)
    return Lattice(rows, columns, (a, b, float(first[0]), d, e, float(first[1]))), levels


def _land(objective: Objective) -> RasterLand:
    """Return where the pad may stand: the rings of the boundary, or of the ground where there is a setback to them."""
    limits = objective.limits
    rings = limits.boundary or (objective.ground.outline() if limits.setback else ())
    region: BaseGeometry = shapely.Polygon()
    for ring in rings:  # what lies in an odd number of rings is land
        region = region.symmetric_difference(shapely.Polygon(ring))
    pieces = [piece for piece in getattr(region, "geoms", [region]) if not piece.is_empty]
    boundaries = tuple(
        tuple(np.asarray(line.coords)[:-1] for line in (piece.exterior, *piece.interiors)) for piece in pieces
    )
    return RasterLand(boundaries, limits.setback if boundaries else 0.0, limits.keep_outs)
