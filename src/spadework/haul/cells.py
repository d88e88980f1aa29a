"""The pad in cells: exactly how much is cut and filled in each."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from spadework.earthwork import LevelRule, pad_levels_batch
from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["Cells", "cell_pieces", "cell_size", "soil_cells"]

SMALLEST_CELL = 0.5
"""Below half a metre a barrow's own length blurs where its soil comes from: common practice, no source. [m]"""
MOST_CELLS = 240
"""So many that the exact transport takes a fraction of a second, and more than one can point at on the ground."""
SLIVER = 1e-9


@dataclass(frozen=True)
class Cells:
    """Cells of the pad, n of them.

    Parameters
    ----------
    centre : array, shape (n, 2)
        Centroid in the pad's frame, ``u, v``. [m]
    area : array, shape (n,)
        Plan area. [m²]
    cut : array, shape (n,)
        Soil dug, in the bank. [m³]
    fill : array, shape (n,)
        Soil made up, compacted. [m³]
    level : array, shape (n,)
        Midway between the mean stripped ground and the formation: where the soil of the cell lies or goes. [m]
    size : float
        Side of a whole cell. [m]
    zone : tuple of str
        What part of the digging each lies in, in words, where that is not told by its place; empty where it is.
    """

    centre: FloatArray
    area: FloatArray
    cut: FloatArray
    fill: FloatArray
    level: FloatArray
    size: float
    zone: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.area)


def cell_size(pad: Pad) -> float:
    """Return the side of a cell: half a metre, or more where the pad would have too many. [m]"""
    return max(SMALLEST_CELL, math.sqrt(pad.area / MOST_CELLS))


def soil_cells(ground: Ground, pad: Pad, placement: Placement, *, size: float | None = None) -> Cells:
    """Divide a pad into cells and work out the cut and fill of each, exactly.

    Parameters
    ----------
    ground : Ground
        The surface.
    pad : Pad
        The pad; cells at the edge of an outline that is no rectangle are cut off by it.
    placement : Placement
        Where it is put.
    size : float, optional
        Side of a cell, rounded so that whole cells fit between the ends of the outline. [m]

    Returns
    -------
    Cells
        Their cuts and fills add up to those of the pad.
    """
    wanted = size or cell_size(pad)
    low, high = pad.outline.min(axis=0), pad.outline.max(axis=0)
    count = np.maximum(1, np.round((high - low) / wanted)).astype(int)
    step = (high - low) / count
    lines_u, lines_v = (np.linspace(low[k], high[k], count[k] + 1) for k in (0, 1))
    if pad.is_rectangle:
        centre_u, centre_v = (lines_u[:-1] + lines_u[1:]) / 2, (lines_v[:-1] + lines_v[1:]) / 2
        centre = np.stack(np.meshgrid(centre_u, centre_v, indexing="ij"), axis=-1).reshape(-1, 2)
        block = Pad.rectangle(step[0], step[1], build_up=pad.build_up, strip=pad.strip)
        return _measured(ground, block, placement, centre, float(step.max()))
    parts = [
        _outlined(ground, pad, placement, piece, float(step.max())) for piece in _pieces(pad.outline, lines_u, lines_v)
    ]
    return Cells(
        centre=np.concatenate([part.centre for part in parts]),
        area=np.concatenate([part.area for part in parts]),
        cut=np.concatenate([part.cut for part in parts]),
        fill=np.concatenate([part.fill for part in parts]),
        level=np.concatenate([part.level for part in parts]),
        size=float(step.max()),
    )


def cell_pieces(part: shapely.Geometry, size: float) -> list[FloatArray]:
    """Return an area cut into cells of a lattice, as rings.

    Parameters
    ----------
    part : shapely geometry
        Polygons.
    size : float
        Side of a cell. [m]
    """
    if shapely.is_empty(part):
        return []
    low_u, low_v, high_u, high_v = shapely.bounds(part).tolist()
    lines_u = np.arange(math.floor(low_u / size), math.ceil(high_u / size) + 1) * size
    lines_v = np.arange(math.floor(low_v / size), math.ceil(high_v / size) + 1) * size
    return _cut_up(part, lines_u, lines_v)


def _pieces(outline: FloatArray, lines_u: FloatArray, lines_v: FloatArray) -> list[FloatArray]:
    """Return what the outline leaves of each cell, as rings."""
    return _cut_up(shapely.Polygon(outline), lines_u, lines_v)


def _cut_up(whole: shapely.Geometry, lines_u: FloatArray, lines_v: FloatArray) -> list[FloatArray]:
    """Return what a geometry leaves of each cell, as rings."""
    low_u, low_v = (a.ravel() for a in np.meshgrid(lines_u[:-1], lines_v[:-1], indexing="ij"))
    high_u, high_v = (a.ravel() for a in np.meshgrid(lines_u[1:], lines_v[1:], indexing="ij"))
    boxes = shapely.box(low_u, low_v, high_u, high_v)
    return [
        np.asarray(piece.exterior.coords)[:-1]
        for piece in shapely.get_parts(shapely.intersection(boxes, whole))
        if isinstance(piece, shapely.Polygon) and piece.area > SLIVER
    ]


def _outlined(ground: Ground, pad: Pad, placement: Placement, ring: FloatArray, size: float) -> Cells:
    """Return one cell of any outline."""
    middle = np.asarray(shapely.Polygon(ring).centroid.coords[0])
    block = Pad(ring - middle, pad.build_up, pad.strip)
    return _measured(ground, block, placement, middle[None, :], size)


def _measured(ground: Ground, block: Pad, placement: Placement, centre: FloatArray, size: float) -> Cells:
    """Return cells of one shape, each measured on the ground at the level of the pad."""
    site = placement.to_site(centre)
    poses = np.column_stack([site, np.full(len(site), placement.bearing)])
    found = pad_levels_batch(ground, block, poses, LevelRule("fixed", finish=placement.finish))
    formation = placement.formation(block)
    return Cells(
        centre=centre,
        area=np.full(len(centre), block.area),
        cut=found.cut,
        fill=found.fill,
        level=(found.ground_mean - block.strip + formation) / 2,
        size=size,
    )
