"""A raster read window by window: the levels that rasterio reads, in every dress, and numbers that no cell can hold."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio

from rasters import PLAIN, TURNED, hills, saved
from spadework.errors import InputError
from spadework.placement.raster_frame import NO_LEVEL, STEP
from spadework.read.raster import read_raster
from spadework.read.raster_windows import raster_windows

WHOLE = np.round((hills() - 500.0) * 100)
DRESSES: dict[str, tuple[Any, dict[str, Any], int | None]] = {
    "float64": (hills().astype(np.float64), {}, None),
    "whole numbers with scale and offset": (WHOLE.astype(np.int16), {"scale": 0.01, "offset": 500.0}, None),
    "tiled and deflated": (
        np.tile(hills(), (4, 3)),
        {"tiled": True, "blockxsize": 64, "blockysize": 64, "compress": "deflate"},
        None,
    ),
    "several bands": (np.stack([hills() * 0.0, hills()]), {}, 2),
    "turned": (hills(), {"transform": TURNED}, None),
    "declared": (np.where(hills() > 500.5, -9999.0, hills()).astype(np.float32), {"nodata": -9999.0}, None),
    "no value at all": (np.full((40, 60), -9999.0, np.float32), {"nodata": -9999.0}, None),
}


@pytest.mark.parametrize("dress", list(DRESSES))
def test_windows_are_what_rasterio_reads(dress: str, tmp_path: Path) -> None:
    """Levels by rasterio's own masked read, scaled by hand, rounded to a tenth of a millimetre; a part too."""
    values, profile, band = DRESSES[dress]
    path = saved(tmp_path, values, **profile)
    with rasterio.open(path) as handle:
        number = band or 1
        read = handle.read(number, masked=True).astype(np.float64)
        wanted = np.ma.filled(read * handle.scales[number - 1] + handle.offsets[number - 1], np.nan)
    with raster_windows(path, band=band) as windows:
        whole = windows.levels(0, 0, *wanted.shape)
        part = windows.levels(7, 11, 20, 30)
        place = windows.lattice.centres(np.array([3.0]), np.array([5.0]))[0]
    assert (whole == NO_LEVEL).tolist() == np.isnan(wanted).tolist()
    known = ~np.isnan(wanted)
    np.testing.assert_allclose(whole[known] * STEP, wanted[known], atol=0.5001 * STEP)
    assert (part == whole[7:27, 11:41]).all()
    assert tuple(place) == pytest.approx(profile.get("transform", PLAIN) @ (5.5, 3.5), abs=1e-6)


@pytest.mark.parametrize(
    ("kind", "nodata", "holds"),
    [
        (np.uint8, -9999.0, "whole numbers from 0 to 255"),
        (np.int16, -99999.0, "whole numbers from -32768 to 32767"),
        (np.int16, -9999.7, "whole numbers"),
        (np.int16, float("nan"), "whole numbers"),
        (np.float32, 1e39, "numbers up to 3.4e\\+38"),
    ],
)
def test_nodata_that_no_cell_can_hold_is_refused(kind: Any, nodata: float, holds: str, tmp_path: Path) -> None:
    """It was not meant for this file: the number, what the band holds and the remedy are said, by both readers."""
    path = saved(tmp_path, (WHOLE % 200).astype(kind))
    with pytest.raises(InputError, match=f"nodata is .* Its band holds {holds}.* Leave nodata out"):
        read_raster(path, nodata=nodata)
    with pytest.raises(InputError, match=f"Its band holds {holds}"), raster_windows(path, nodata=nodata):
        pass


@pytest.mark.parametrize(
    ("kind", "nodata"), [(np.int16, -9999.0), (np.float32, float("nan")), (np.float32, -3.4028234e38)]
)
def test_nodata_is_taken_as_the_cells_hold_it(kind: Any, nodata: float, tmp_path: Path) -> None:
    """A number that a float of 32 bits rounds is that float; NaN is missing in any case."""
    values = WHOLE.astype(kind)
    values[:9] = nodata
    path = saved(tmp_path, values)
    level = read_raster(path, nodata=nodata).level
    assert np.isnan(level[:9]).all()
    assert not np.isnan(level[9:]).any()
    with raster_windows(path, nodata=nodata) as windows:
        whole = windows.levels(0, 0, *values.shape)
    assert ((whole == NO_LEVEL) == np.isnan(level)).all()
