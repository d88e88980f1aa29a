"""Rough ground without end, made window by window: the same cell has the same level whichever window asks for it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from rasterio.windows import Window

LONGEST = 4096.0
"""Longest wave. [m]"""


def lattice_values(row: np.ndarray, column: np.ndarray, seed: int) -> np.ndarray:
    """Return numbers from -1 to 1 that hang on whole rows and columns only: a hash of both (multiply and shift)."""
    mixed = row.astype(np.uint64)[:, None] * np.uint64(0x9E3779B97F4A7C15)
    mixed = mixed ^ (column.astype(np.uint64)[None, :] * np.uint64(0xC2B2AE3D27D4EB4F)) ^ np.uint64(seed * 7919 + 1)
    for shift in (33, 29, 32):
        mixed = (mixed ^ (mixed >> np.uint64(shift))) * np.uint64(0xFF51AFD7ED558CCD)
    return (mixed >> np.uint64(11)).astype(np.float64) / 2**52 - 1.0


def fractal_levels(
    row: int, column: int, rows: int, columns: int, *, cell: float = 1.0, rise: float = 0.02, seed: int = 1
) -> np.ndarray:
    """Return levels of a window, shape (rows, columns) [m]: waves from 4 km down to a cell between random levels at the
    corners of a lattice, each as high as `rise` times its length to the power 0.9.
    """
    level = np.full((rows, columns), 200.0, dtype=np.float64)
    down = (np.arange(row, row + rows) + 0.5) * cell
    right = (np.arange(column, column + columns) + 0.5) * cell
    length, number = LONGEST, 0
    while length >= 2 * cell:
        number += 1
        y, x = down / length, right / length
        i0, j0 = int(np.floor(y[0])), int(np.floor(x[0]))
        corner = lattice_values(np.arange(i0, int(y[-1]) + 2), np.arange(j0, int(x[-1]) + 2), seed + number)
        i, j = np.floor(y).astype(int) - i0, np.floor(x).astype(int) - j0
        v, u = (y - np.floor(y)), (x - np.floor(x))
        v, u = v * v * (3 - 2 * v), u * u * (3 - 2 * u)
        along = corner[:, j] * (1 - u) + corner[:, j + 1] * u
        level += rise * length**0.9 * (along[i] * (1 - v)[:, None] + along[i + 1] * v[:, None])
        length /= 2
    return level


def write_terrain(path: Path, size: int, *, cell: float = 1.0, strip: int = 500, noise: float = 0.0) -> None:
    """Write a square GeoTIFF of fractal ground, strip by strip; with noise of a standard deviation added. [m]"""
    random = np.random.default_rng(5)
    with rasterio.open(
        path, "w", driver="GTiff", width=size, height=size, count=1, dtype="float32", nodata=-9999.0, tiled=True,
        blockxsize=256, blockysize=256, transform=Affine(cell, 0, 500_000, 0, -cell, 5_000_000), crs="EPSG:25832",
    ) as target:  # fmt: skip
        for row in range(0, size, strip):
            rows = min(strip, size - row)
            level = fractal_levels(row, 0, rows, size, cell=cell)
            if noise:
                level += random.normal(0.0, noise, level.shape)
            target.write(level.astype(np.float32), 1, window=Window(0, row, size, rows))
