"""The pad in cells: exactly how much is cut and filled in each."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from spadework.earthwork.cells import cell_size, cell_soil, cells_cut_from, pad_cells
from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["Cells", "cell_pieces", "cell_size", "soil_cells"]


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
    cells, formation = pad_cells(pad, size), placement.formation(pad)
    pose = np.array([[placement.east, placement.north, placement.bearing]])
    # For one pose the kernel is not worth its compiling.
    found = cell_soil(ground, pad, cells, pose, np.array([formation]), use_compiled=False)[0]
    cut, fill = found[:, 0, 1], -found[:, 1, 1]
    return Cells(
        centre=cells.centre,
        area=cells.area,
        cut=cut,
        fill=fill,
        level=formation + (cut - fill) / cells.area / 2,
        size=cells.size,
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
    return cells_cut_from(part, lines_u, lines_v)
