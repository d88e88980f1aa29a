"""A pad in cells, and exactly how much is cut and filled in each of them, at one pose or at many."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import shapely

from spadework.earthwork._compile import COMPILED
from spadework.earthwork.arrays import ground_arrays
from spadework.earthwork.batch import MOST_WORKERS, cores
from spadework.earthwork.cell_kernel import CellArrays, measure_cells
from spadework.earthwork.parts import convex_parts
from spadework.earthwork.pieces import cut_out, local_poses
from spadework.earthwork.volumes import cut_fill
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.readings import FloatArray

__all__ = ["PadCells", "cell_size", "cell_soil", "cells_cut_from", "pad_cells"]

SMALLEST_CELL = 0.5
"""Below half a metre a barrow's own length blurs where its soil comes from: common practice, no source. [m]"""
MOST_CELLS = 240
"""So many that the exact transport takes a fraction of a second, and more than one can point at on the ground."""
SLIVER = 1e-9
FEWEST_FOR_A_WORKER = 16


@dataclass(frozen=True, eq=False)
class PadCells:
    """The cells of a pad, n of them, wherever it stands.

    Parameters
    ----------
    centre : array, shape (n, 2)
        Centroid in the pad's frame, ``u, v``. [m]
    area : array, shape (n,)
        Plan area. [m²]
    rim : array, shape (n,)
        Share of the outline that runs along each: they sum to one.
    away : array, shape (n,)
        Distance of each centre from the outline. [m]
    rings : tuple of array, shape (m, 2)
        Their corners. [m]
    pieces : CellArrays
        The same in convex pieces, for the kernel.
    size : float
        Side of a whole cell. [m]
    alike : bool
        Whether all have one shape.
    """

    centre: FloatArray
    area: FloatArray
    rim: FloatArray
    away: FloatArray
    rings: tuple[FloatArray, ...]
    pieces: CellArrays
    size: float
    alike: bool = False

    def __len__(self) -> int:
        return len(self.area)


def cell_size(pad: Pad) -> float:
    """Return the side of a cell: half a metre, or more where the pad would have too many. [m]"""
    return max(SMALLEST_CELL, math.sqrt(pad.area / MOST_CELLS))


def pad_cells(pad: Pad, size: float | None = None) -> PadCells:
    """Divide a pad into cells.

    Parameters
    ----------
    pad : Pad
        The pad; cells at the edge of an outline that is no rectangle are cut off by it.
    size : float, optional
        Side of a cell, rounded so that whole cells fit between the ends of the outline. [m]
    """
    return _pad_cells(pad.outline.tobytes(), pad.is_rectangle, size or cell_size(pad))


@lru_cache(maxsize=8)
def _pad_cells(outline: bytes, rectangle: bool, wanted: float) -> PadCells:
    ring = np.frombuffer(outline).reshape(-1, 2)
    low, high = ring.min(axis=0), ring.max(axis=0)
    count = np.maximum(1, np.round((high - low) / wanted)).astype(int)
    step = (high - low) / count
    lines_u, lines_v = (np.linspace(low[k], high[k], count[k] + 1) for k in (0, 1))
    if rectangle:
        centre = np.stack(
            np.meshgrid((lines_u[:-1] + lines_u[1:]) / 2, (lines_v[:-1] + lines_v[1:]) / 2, indexing="ij"), axis=-1
        ).reshape(-1, 2)
        block = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]) * step / 2
        rings = [middle + block for middle in centre]
        area = np.full(len(centre), float(step[0] * step[1]))
    else:
        rings = cells_cut_from(shapely.Polygon(ring), lines_u, lines_v)
        shapes = [shapely.Polygon(piece) for piece in rings]
        centre = np.array([shape.centroid.coords[0] for shape in shapes])
        area = np.array([shape.area for shape in shapes])
    rim = shapely.LinearRing(ring)
    parts = [convex_parts(piece) for piece in rings]
    convex = [(cell, part.corners[a:b]) for cell, part in enumerate(parts) for a, b in pairwise(part.part.tolist())]
    convex.sort(key=lambda piece: float(piece[1][:, 0].min()))
    box = np.array([[*corners.min(axis=0), *corners.max(axis=0)] for _, corners in convex])[:, [0, 2, 1, 3]]
    return PadCells(
        centre=centre,
        area=area,
        rim=_along_rim(rim, centre, float(step.max())),
        away=np.asarray(shapely.distance(rim, shapely.points(centre))),
        rings=tuple(rings),
        pieces=CellArrays(
            corners=np.ascontiguousarray(np.vstack([corners for _, corners in convex])),
            part=np.cumsum([0, *(len(corners) for _, corners in convex)]),
            owner=np.array([cell for cell, _ in convex], dtype=np.int64),
            box=box,
            first=np.ascontiguousarray(box[:, 0]),
            longest=float((box[:, 1] - box[:, 0]).max()) + SLIVER,
        ),
        size=float(step.max()),
        alike=rectangle,
    )


def cells_cut_from(whole: shapely.Geometry, lines_u: FloatArray, lines_v: FloatArray) -> list[FloatArray]:
    """Return what a geometry leaves of each cell between lines, as rings.

    Parameters
    ----------
    whole : shapely geometry
        Polygons.
    lines_u, lines_v : array
        Where the lines stand, rising. [m]
    """
    low_u, low_v = (a.ravel() for a in np.meshgrid(lines_u[:-1], lines_v[:-1], indexing="ij"))
    high_u, high_v = (a.ravel() for a in np.meshgrid(lines_u[1:], lines_v[1:], indexing="ij"))
    boxes = shapely.box(low_u, low_v, high_u, high_v)
    return [
        np.asarray(piece.exterior.coords)[:-1]
        for piece in shapely.get_parts(shapely.intersection(boxes, whole))
        if isinstance(piece, shapely.Polygon) and piece.area > SLIVER
    ]


def _along_rim(rim: shapely.LinearRing, centre: FloatArray, size: float) -> FloatArray:
    """Return the share of an outline that is nearest to each cell, by short stretches of it."""
    count = max(64, math.ceil(8 * rim.length / size))
    places = shapely.get_coordinates(
        shapely.line_interpolate_point(rim, (np.arange(count) + 0.5) / count, normalized=True)
    )
    gaps = places[:, None] - centre[None]
    # A stretch halfway between two cells goes to both: the share has the symmetry of the outline.
    away = np.hypot(gaps[..., 0], gaps[..., 1])
    near = away <= away.min(axis=1, keepdims=True) + 1e-9
    share: FloatArray = (near / near.sum(axis=1, keepdims=True)).mean(axis=0)
    return share


def cell_soil(
    ground: Ground,
    pad: Pad,
    cells: PadCells,
    poses: FloatArray,
    formation: FloatArray,
    *,
    moments: bool = False,
    use_compiled: bool | None = None,
) -> FloatArray:
    """Return what lies above and below the formation in each cell, at each pose.

    Exact for plane triangles. The numbers of a pose do not depend on the poses beside it.

    Parameters
    ----------
    ground : Ground
        The surface.
    pad : Pad
        Its strip is taken off first.
    cells : PadCells
        Of the pad.
    poses : array, shape (k, 3)
        ``east, north`` [m], ``bearing`` [deg].
    formation : array, shape (k,)
        [m]
    moments : bool
        Whether to return the integrals of place and rise besides; only the kernel does.
    use_compiled : bool, optional
        Whether to use the compiled kernel; by default if there is one, or moments are asked for.

    Returns
    -------
    array, shape (k, n, 2, 2) or (k, n, 2, 7)
        As in `cell_kernel.measure_cells`; without the kernel the areas are those of the whole cell, above, and nothing.
    """
    local, level = local_poses(ground, poses), np.asarray(formation, dtype=np.float64) + pad.strip - ground.datum
    result = np.zeros((len(poses), len(cells), 2, 7 if moments else 2))
    if not (COMPILED if use_compiled is None else use_compiled) and not moments:
        _batched(ground, pad, cells, local, np.asarray(formation, dtype=np.float64), result)
        return result
    tables = ground_arrays(ground)

    def work(some: slice) -> None:
        measure_cells(tables, cells.pieces, local[some], level[some], result[some])

    workers = max(min(cores(), MOST_WORKERS, len(poses) // FEWEST_FOR_A_WORKER), 1)
    if workers == 1:
        work(slice(None))
        return result
    ends = np.linspace(0, len(poses), 4 * workers + 1).astype(int).tolist()
    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work, [slice(*pair) for pair in pairwise(ends)]))
    return result


def _batched(  # noqa: PLR0917 -- the arguments of the kernel, in its order
    ground: Ground, pad: Pad, cells: PadCells, poses: FloatArray, formation: FloatArray, result: FloatArray
) -> None:
    """Fill areas and heights in as the kernel does, in numpy: cells of one shape together, others one at a time."""
    if cells.alike:
        east = poses[:, None, :2] + cells.centre @ np.stack([poses[:, 2:], poses[:, :1:-1] * [1.0, -1.0]], axis=1)
        turn = np.broadcast_to(poses[:, None, 2:], east.shape)
        every = np.concatenate([east, turn], axis=2).reshape(-1, 4)
        pieces = cut_out(ground, convex_parts(cells.rings[0] - cells.centre[0]), every)
        cut, fill = cut_fill(pieces, np.repeat(formation, len(cells)), pad.strip)
        result[..., 0, 0] = pieces.sum(pieces.area).reshape(len(poses), -1)
        result[..., 0, 1], result[..., 1, 1] = cut.reshape(len(poses), -1), -fill.reshape(len(poses), -1)
        return
    for number, ring in enumerate(cells.rings):
        pieces = cut_out(ground, convex_parts(ring), poses)
        cut, fill = cut_fill(pieces, formation, pad.strip)
        result[:, number, 0, 0] = pieces.sum(pieces.area)
        result[:, number, 0, 1], result[:, number, 1, 1] = cut, -fill
