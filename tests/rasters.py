"""Small rasters in every dress, written for a test, and the fault that reading one ends in."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import rasterio
from affine import Affine

from spadework.errors import InputError
from spadework.read.raster import read_raster

__all__ = ["NORTH", "PLAIN", "TURNED", "UTM", "WEST", "by_hand", "fault", "hills", "saved"]

UTM = "EPSG:25832"
WEST, NORTH = 682_600.0, 5_318_470.0
PLAIN = Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH)
TURNED = Affine.translation(WEST, NORTH) @ Affine.rotation(30.0) @ Affine.scale(0.5, -0.5)


def hills(rows: int = 40, columns: int = 60) -> npt.NDArray[np.float32]:
    """Return levels of which no two neighbours are alike."""
    row, column = np.mgrid[0:rows, 0:columns]
    return (500.0 + 0.05 * column - 0.03 * row + 0.4 * np.sin(column / 7.0) * np.cos(row / 5.0)).astype(np.float32)


def saved(
    folder: Path,
    values: npt.NDArray[Any],
    *,
    crs: str | None = UTM,
    transform: Affine | None = PLAIN,
    name: str = "ground.tif",
    unit: str | None = None,
    scale: float = 1.0,
    offset: float = 0.0,
    mask: npt.NDArray[np.bool_] | None = None,
    **profile: object,
) -> Path:
    """Write a raster of one band, or of as many as the first axis of three has."""
    path = folder / name
    bands = values if values.ndim == 3 else values[None]
    profile = {"driver": "GTiff", **profile}
    if transform is not None:
        profile["transform"] = transform
    with (
        warnings.catch_warnings(action="ignore"),  # of writing one without a georeference; reading must not warn
        rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True),
        rasterio.open(
            path,
            "w",
            width=bands.shape[2],
            height=bands.shape[1],
            count=len(bands),
            dtype=bands.dtype,
            crs=crs,
            **profile,
        ) as raster,
    ):
        raster.write(bands)
        if unit is not None:
            raster.set_band_unit(1, unit)
        if (scale, offset) != (1.0, 0.0):
            raster.scales, raster.offsets = (scale,), (offset,)
        if mask is not None:
            raster.write_mask(mask)
    return path


def by_hand(transform: Affine, row: npt.NDArray[Any], column: npt.NDArray[Any]) -> tuple[Any, Any]:
    """Return the cell centres by the six numbers of the affine map."""
    east = transform.c + transform.a * (column + 0.5) + transform.b * (row + 0.5)
    north = transform.f + transform.d * (column + 0.5) + transform.e * (row + 0.5)
    return east, north


def fault(path: Path, **options: Any) -> str:
    """Return the one fault that reading a raster ends in."""
    with pytest.raises(InputError) as caught:
        read_raster(path, **options)
    assert len(caught.value.faults) == 1
    assert str(caught.value).startswith(str(path))
    return str(caught.value)
