"""Rasters that cannot be used, one by one, each with one clear message."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from rasters import NORTH, WEST, fault, hills, saved
from spadework.errors import InputError
from spadework.read.raster import read_raster


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "not an elevation raster"),
        (b"point,east,north\nF1,0,0\n", "not an elevation raster"),
        (b"II*\x00\x08\x00\x00\x00broken", "not an elevation raster"),
        (b'<VRTDataset rasterXSize="1" rasterYSize="1"/>', "not an elevation raster"),
        (b"ncols 4\nnrows three\n", "not an elevation raster"),
    ],
    ids=["empty", "text", "broken tiff", "virtual", "broken grid"],
)
def test_read_raster_when_the_file_is_none(content: bytes, says: str, tmp_path: Path) -> None:
    """A file that is no raster gets one clear message."""
    path = tmp_path / "ground.tif"
    path.write_bytes(content)
    assert says in fault(path)


def test_read_raster_when_there_is_no_file(tmp_path: Path) -> None:
    """A missing file, a folder and an address are told apart from broken rasters, and nothing is fetched."""
    assert "there is no such file" in fault(tmp_path / "nowhere.tif")
    assert "this is a folder" in fault(tmp_path)
    with pytest.raises(InputError, match="there is no such file"):
        read_raster("http://127.0.0.1:9/ground.tif")


def test_read_raster_when_cut_short(tmp_path: Path) -> None:
    """A file of which only the head arrived is told."""
    path = saved(tmp_path, np.random.default_rng(1).normal(500, 3, (300, 300)).astype(np.float32))
    path.write_bytes(path.read_bytes()[:100_000])
    assert "cannot be read, though its header can" in fault(path)


def test_read_raster_when_it_has_several_bands(tmp_path: Path) -> None:
    """Which of several bands holds the levels is asked, and a choice is obeyed."""
    values = np.stack([hills(), hills() + 10.0])
    path = saved(tmp_path, values)
    assert "it has 2 bands: 1 (float32), 2 (float32)" in fault(path)
    assert "Choose one of" in fault(path, band=3)
    np.testing.assert_array_equal(read_raster(path, band=2).level, values[1])


def test_read_raster_when_it_is_a_picture(tmp_path: Path) -> None:
    """A map with a table of colours is no ground."""
    path = saved(tmp_path, np.ones((20, 20), dtype=np.uint8), photometric="palette")
    with rasterio.open(path, "r+") as raster:
        raster.write_colormap(1, {1: (200, 10, 10, 255)})
    assert "map colours, not levels" in fault(path)
    complex_path = saved(tmp_path, np.ones((20, 20), dtype=np.complex64), name="radar.tif")
    assert "complex numbers, not levels" in fault(complex_path)


def test_read_raster_when_it_has_no_georeference(tmp_path: Path) -> None:
    """A raster that says nothing about where it lies is refused, one with control points only as well."""
    assert "says nothing about where it lies" in fault(saved(tmp_path, hills(), crs=None, transform=None))
    points = [
        rasterio.control.GroundControlPoint(row=row, col=column, x=WEST + column, y=NORTH - row)
        for row, column in [(0, 0), (0, 60), (40, 0)]
    ]
    path = saved(tmp_path, hills(), transform=None, name="points.tif", gcps=points)
    assert "control points only" in fault(path)


def test_read_raster_when_its_cells_have_no_area(tmp_path: Path) -> None:
    """A map from cells to places that folds them onto a line is refused."""
    path = saved(tmp_path, hills(), transform=Affine(1.0, 2.0, WEST, 1.0, 2.0, NORTH))
    assert "gives cells no area" in fault(path)


def test_read_raster_when_the_boundary_lies_elsewhere(tmp_path: Path) -> None:
    """Both extents are named, so that a wrong system is seen at a glance."""
    ring = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 20.0]])
    told = fault(saved(tmp_path, hills()), outline=[ring])
    assert "it goes from east 0.0 to 30.0, north 0.0 to 20.0" in told
    assert "the raster from east 682600.0 to 682660.0, north 5318430.0 to 5318470.0" in told


def test_read_raster_when_site_and_raster_do_not_share_a_world(tmp_path: Path) -> None:
    """A raster with a place on the Earth cannot be laid under a site without one."""
    assert "the site has axes of its own" in fault(saved(tmp_path, hills()), site_crs="local")


def test_read_raster_when_it_looks_like_degrees(tmp_path: Path) -> None:
    """A raster without a system whose numbers look like degrees is not taken for metres."""
    path = saved(tmp_path, hills(), crs=None, transform=Affine(1e-5, 0.0, 11.448, 0.0, -1e-5, 47.9935))
    assert "cells of 1e-05 look like degrees" in fault(path, site_crs="local")


def test_read_raster_when_the_window_is_nothing(tmp_path: Path) -> None:
    """A window written the wrong way round, and one of a single cell's width, are refused."""
    path = saved(tmp_path, hills())
    with pytest.raises(InputError, match=r"the window .* is empty"):
        read_raster(path, window=(WEST + 20, NORTH - 10, WEST + 10, NORTH - 5))
    narrow = saved(tmp_path, hills(40, 1), name="narrow.tif")
    assert "only 1 x 40 cells lie here" in fault(narrow)


def test_read_raster_when_its_words_are_garbled(tmp_path: Path) -> None:
    """A description in bytes that are no text ends in a message."""
    path = saved(tmp_path, hills(), unit="metre")
    content = path.read_bytes()
    assert b">metre<" in content
    path.write_bytes(content.replace(b">metre<", b">m\xe9tre<"))
    assert "not an elevation raster" in fault(path)
