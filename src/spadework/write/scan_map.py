"""The best value of every cell of a raster as a GeoTIFF, written tile by tile while a scan goes on."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from rasterio.windows import Window

from spadework.placement.raster_frame import Lattice
from spadework.placement.raster_search import MapTo
from spadework.readings import FloatArray

__all__ = ["ScanMap"]

NODATA = -9999.0


class ScanMap:
    """A GeoTIFF that comes into being beside its name, and takes it when it is whole.

    Parameters
    ----------
    path : Path
        Name of the file.
    goal : str
        What its values are of.
    """

    def __init__(self, path: Path, goal: str) -> None:
        self.path, self.goal = path, goal
        self._beside = path.with_name(f".{path.name}.part")
        self._target: Any = None

    def open(self, lattice: Lattice, crs: str, size: int) -> MapTo:
        """Begin the file and return what writes a tile.

        Parameters
        ----------
        lattice : Lattice
            The raster.
        crs : str
            Coordinate reference system of its positions; empty for plain metres.
        size : int
            Rows and columns of a tile, a multiple of 16: a block of the file holds just one.
        """
        self._target = rasterio.open(
            self._beside,
            "w",
            driver="GTiff",
            width=lattice.columns,
            height=lattice.rows,
            count=2,
            dtype="float32",
            nodata=NODATA,
            compress="deflate",
            zlevel=1,
            tiled=True,
            blockxsize=size,
            blockysize=size,
            sparse_ok=True,
            BIGTIFF="IF_SAFER",
            transform=Affine(*lattice.transform),
            crs=rasterio.CRS.from_user_input(crs) if crs else None,
        )
        for band, words in enumerate((f"least {self.goal} [m3]", "bearing that gives it [deg]"), 1):
            self._target.set_band_description(band, words)
        self._target.update_tags(units="m", level="free, the best at each cell and bearing")
        return self.write

    def write(self, row: int, column: int, value: FloatArray, bearing: FloatArray) -> None:
        """Write a tile, given its first row and column; values that are not finite become no value."""
        window = Window(column, row, value.shape[1], value.shape[0])
        for band, table in enumerate((value, bearing), 1):
            self._target.write(np.where(np.isfinite(table), table, NODATA).astype(np.float32), band, window=window)

    def keep(self) -> None:
        """Close the file and give it its name."""
        self._target.close()
        os.replace(self._beside, self.path)  # noqa: PTH105 -- one system call

    def drop(self) -> None:
        """Take away what was begun; nothing where it was kept."""
        if self._target is not None and not self._target.closed:
            self._target.close()
        self._beside.unlink(missing_ok=True)
