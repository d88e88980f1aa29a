"""``depth.tif``: cut and fill on a fine grid over the pad as a GeoTIFF, for a map program.

Each cell holds stripped ground minus formation at its centre in metres: cut above zero, fill below. It has a coordinate
reference system only where the site has one; its axes are the site's in any case.
"""

from __future__ import annotations

import numpy as np
import rasterio
from affine import Affine
from rasterio.io import MemoryFile

from spadework.plan import Plan
from spadework.stakeout.grid import on_outline
from spadework.write.place_on_earth import has_place_on_earth

__all__ = ["depth_raster_bytes"]

NODATA = -9999.0
CELLS = 120  # along the longer side, at least


def depth_raster_bytes(plan: Plan) -> bytes:
    """Return the file.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    place = plan.search.best.placement
    corners = place.corners(plan.pad)
    low, high = corners.min(axis=0), corners.max(axis=0)
    cell = _round_cell(float((high - low).max()))
    west, north = np.floor(low[0] / cell) * cell, np.ceil(high[1] / cell) * cell
    wide, tall = int(np.ceil((high[0] - west) / cell - 1e-9)), int(np.ceil((north - low[1]) / cell - 1e-9))
    east_of = west + (np.arange(wide) + 0.5) * cell
    north_of = north - (np.arange(tall) + 0.5) * cell
    points = np.stack(np.meshgrid(east_of, north_of), axis=-1).reshape(-1, 2)
    inside = on_outline(plan.pad.outline, place.to_pad(points))
    depth = np.full(len(points), NODATA, dtype=np.float32)
    levels = plan.ground.level_at(points[inside]) - plan.pad.strip - place.formation(plan.pad)
    depth[inside] = np.where(np.isnan(levels), NODATA, levels)
    with MemoryFile() as memory:  # type: ignore[no-untyped-call]
        with memory.open(
            driver="GTiff",
            width=wide,
            height=tall,
            count=1,
            dtype="float32",
            nodata=NODATA,
            compress="deflate",
            transform=Affine(cell, 0, west, 0, -cell, north),
            crs=rasterio.CRS.from_user_input(plan.crs) if has_place_on_earth(plan) else None,
        ) as target:
            target.write(depth.reshape(tall, wide), 1)
            target.set_band_description(1, "cut (above 0) and fill (below 0) after the strip [m]")
            target.update_tags(
                site=plan.name, date=plan.date, units="m", datum=plan.datum, overrides=" ".join(plan.overrides)
            )
        return bytes(memory.read())


def _round_cell(longest: float) -> float:
    """Return a round size of cell. [m]"""
    steps = [base * 10.0**power for power in range(-3, 3) for base in (1, 2, 5)]
    return next((step for step in reversed(steps) if longest / step >= CELLS), steps[0])
