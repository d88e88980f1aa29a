"""Which axes a site gets, from what it has."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import CRS

from make_samples import SAMPLES
from spadework.errors import InputError, Source
from spadework.read.axes import choose_axes
from spadework.read.outline import read_outline
from spadework.read.projection import scale_error
from spadework.read.raster import read_raster

PADDOCK = SAMPLES / "paddock-raster"


@pytest.fixture
def degrees(tmp_path: Path) -> Path:
    """Write a raster of half a degree, so large that its middle is far from the site."""
    path = tmp_path / "tile.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=500,
        height=500,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=Affine(0.001, 0.0, 11.0, 0.0, -0.001, 48.25),
    ) as raster:
        raster.write(np.full((500, 500), 540.0, dtype=np.float32), 1)
    return path


def test_choose_axes_when_nothing_has_a_place() -> None:
    """A site of shots only has plain metres."""
    assert choose_axes().crs == ""
    assert choose_axes(crs="local").crs == ""


def test_choose_axes_when_the_raster_has_a_grid() -> None:
    """The raster's own grid is taken, and outline and raster meet in it."""
    axes = choose_axes(raster=PADDOCK / "paddock.tif", outline=PADDOCK / "paddock.geojson")
    assert axes.crs == "EPSG:25832"
    outline = read_outline(PADDOCK / "paddock.geojson", site_crs=axes.crs)
    reading = read_raster(PADDOCK / "paddock.tif", outline=outline.rings, site_crs=axes.crs)
    low, high = outline.rings[0].min(axis=0), outline.rings[0].max(axis=0)
    assert reading.east.min() < low[0] < high[0] < reading.east.max()
    assert reading.north.min() < low[1] < high[1] < reading.north.max()


def test_choose_axes_when_the_raster_is_in_degrees(degrees: Path) -> None:
    """Axes are made on the outline, not on the far middle of the raster, and both meet in them."""
    axes = choose_axes(raster=degrees, outline=PADDOCK / "paddock.geojson")
    assert scale_error(CRS(axes.crs), 11.44823, 47.99311) < 1e-9
    outline = read_outline(PADDOCK / "paddock.geojson", site_crs=axes.crs)
    assert np.abs(outline.rings[0]).max() < 60.0
    reading = read_raster(degrees, outline=outline.rings, site_crs=axes.crs)
    assert np.abs(reading.east).max() < 500.0


def test_choose_axes_when_only_an_outline_has_a_place() -> None:
    """Axes are made on the outline's middle."""
    axes = choose_axes(outline=PADDOCK / "paddock.geojson")
    assert axes.crs == read_outline(PADDOCK / "paddock.geojson").crs


def test_choose_axes_when_the_user_asks(degrees: Path) -> None:
    """What is asked for is kept where it can serve, and refused where it cannot."""
    assert choose_axes(crs="EPSG:25832", raster=degrees).crs == "EPSG:25832"
    assert choose_axes(crs="EPSG:27700").crs == "EPSG:27700"
    source = Source("site.toml", 4, "crs")
    with pytest.raises(InputError, match=r"^site\.toml line 4, column crs: .* has distances wrong here"):
        choose_axes(crs="EPSG:3857", raster=degrees, source=source)
    with pytest.raises(InputError, match=r"^site\.toml line 4, column crs: 'EPSG:1' names no"):
        choose_axes(crs="EPSG:1", source=source)


def test_choose_axes_when_the_outline_is_drawn_in_site_axes(tmp_path: Path) -> None:
    """An outline in plain metres has no place on the Earth to give."""
    path = tmp_path / "plot.geojson"
    path.write_text(
        json.dumps({"type": "Polygon", "coordinates": [[[0, 0], [9, 0], [9, 9], [0, 0]]]}), encoding="utf-8"
    )
    assert choose_axes(outline=path, outline_crs="site").crs == ""


def test_choose_axes_when_the_outline_is_on_the_other_side_of_the_world(tmp_path: Path) -> None:
    """Longitude and latitude that changed places do not change the axes: the raster then says where each lies."""
    path = tmp_path / "swapped.geojson"
    ring = [[47.9928, 11.4477], [47.9933, 11.4477], [47.9933, 11.4487], [47.9928, 11.4477]]
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}), encoding="utf-8")
    axes = choose_axes(raster=PADDOCK / "paddock.tif", outline=path)
    assert axes.crs == "EPSG:25832"
    with pytest.raises(InputError, match=r"from 47\.9928, 11\.4477 to .* is not used.*longitude comes first"):
        read_outline(path, site_crs=axes.crs)
