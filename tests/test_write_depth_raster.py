"""Cut and fill as a GeoTIFF: read back by its own library, cell by cell."""

from __future__ import annotations

import numpy as np
import pytest
from rasterio.io import MemoryFile

from sample_plan import HOSTILE, sample_plan
from spadework.write.depth_raster import depth_raster_bytes


def test_depth_raster_holds_stripped_ground_less_formation_at_each_centre() -> None:
    """Every cell on the pad, none off it; a cell's centre by the file's own transform."""
    plan = sample_plan()
    place = plan.search.best.placement
    with MemoryFile(depth_raster_bytes(plan)) as memory, memory.open() as source:
        depth = source.read(1)
        rows, columns = np.indices(depth.shape)
        t = source.transform
        east, north = t.c + t.a * (columns + 0.5), t.f + t.e * (rows + 0.5)
        assert source.nodata == -9999
        assert source.crs is None
        assert source.transform.e < 0 < source.transform.a
    points = np.column_stack([east.ravel(), north.ravel()])
    u, v = place.to_pad(points).T
    inside = (np.abs(u) <= 2.7) & (np.abs(v) <= 1.8)
    shown = depth.ravel() != -9999
    assert (inside == shown).all()
    expected = plan.ground.level_at(points[inside]) - 0.075 - 99.92
    assert depth.ravel()[inside] == pytest.approx(expected, abs=1e-5)


def test_depth_raster_adds_up_to_cut_and_fill() -> None:
    """Sums over cells of 50 mm come to the exact volumes within a hundredth."""
    plan = sample_plan()
    with MemoryFile(depth_raster_bytes(plan)) as memory, memory.open() as source:
        depth, cell = source.read(1, masked=True), source.transform.a
    cut, fill = np.maximum(depth, 0).sum() * cell**2, np.maximum(-depth, 0).sum() * cell**2
    assert cut - fill == pytest.approx(plan.earthwork.cut - plan.earthwork.fill, rel=0.01)
    assert cut == pytest.approx(plan.earthwork.cut, rel=0.01)


@pytest.mark.parametrize(("crs", "code"), [("EPSG:25832", 25832), ("EPSG:27700", 27700)])
def test_depth_raster_has_a_system_where_the_site_has_one(crs: str, code: int) -> None:
    """The file names it, and says what its numbers are."""
    with MemoryFile(depth_raster_bytes(sample_plan(crs=crs, name=HOSTILE))) as memory, memory.open() as source:
        assert source.crs.to_epsg() == code
        assert source.tags()["site"] == HOSTILE
        assert source.tags()["units"] == "m"


def test_depth_raster_repeats_to_the_byte() -> None:
    """The same plan gives the same file."""
    assert depth_raster_bytes(sample_plan()) == depth_raster_bytes(sample_plan())
