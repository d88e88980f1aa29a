"""Where the cells of a raster lie: against an affine map by hand, and against the projection library."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import CRS, Geod, Transformer

from rasters import NORTH, PLAIN, TURNED, UTM, WEST, by_hand, fault, hills, saved
from spadework.errors import InputError
from spadework.read.projection import site_projection
from spadework.read.raster import raster_axes, read_raster


@pytest.mark.parametrize("transform", [PLAIN, TURNED], ids=["north up", "turned"])
def test_read_raster_when_whole(transform: Affine, tmp_path: Path) -> None:
    """Every cell centre lies where the affine map puts it, and keeps its level."""
    values = hills()
    reading = read_raster(saved(tmp_path, values, transform=transform))
    row, column = np.mgrid[0:40, 0:60]
    east, north = by_hand(transform, row, column)
    np.testing.assert_allclose(reading.east, east, atol=1e-9, rtol=0)
    np.testing.assert_allclose(reading.north, north, atol=1e-9, rtol=0)
    np.testing.assert_array_equal(reading.level, values)
    assert reading.crs == UTM
    assert reading.cell == pytest.approx(abs(transform.determinant) ** 0.5)


@pytest.mark.parametrize("transform", [PLAIN, TURNED], ids=["north up", "turned"])
def test_read_raster_when_windowed(transform: Affine, tmp_path: Path) -> None:
    """Only cells around the boundary are read, all of those in it, each with the level of its place."""
    values = hills()
    corners = np.array([[20.0, 11.0], [38.0, 12.5], [35.0, 27.0], [22.0, 25.0]])
    ring = np.array([transform @ tuple(corner) for corner in corners])
    reading = read_raster(saved(tmp_path, values, transform=transform), outline=[ring])
    inverse = ~transform
    column, row = (
        inverse.a * reading.east + inverse.b * reading.north + inverse.c,
        inverse.d * reading.east + inverse.e * reading.north + inverse.f,
    )
    np.testing.assert_array_equal(reading.level, values[np.floor(row).astype(int), np.floor(column).astype(int)])
    assert reading.level.size < values.size / 3
    # Centres reach past the corners' columns 20 to 38 and rows 11 to 27 on every side, by three cells at most.
    assert 17 <= column.min() < 20
    assert 38 < column.max() <= 41
    assert 8 <= row.min() < 11
    assert 27 < row.max() <= 30
    assert any("of 60 x 40 cells" in note for note in reading.note)


def test_read_raster_when_the_window_is_given_as_numbers(tmp_path: Path) -> None:
    """A window in site axes reads the cells around it."""
    reading = read_raster(saved(tmp_path, hills()), window=(WEST + 10, NORTH - 30, WEST + 20, NORTH - 15))
    assert reading.east.min() == WEST + 8.5
    assert reading.east.max() == WEST + 21.5
    assert reading.north.max() == NORTH - 13.5
    assert reading.north.min() == NORTH - 31.5


def test_read_raster_when_it_is_much_larger_than_the_window(tmp_path: Path) -> None:
    """A raster far too large to be read whole is read around the boundary."""
    values = np.zeros((1500, 3000), dtype=np.int16) + 500
    values[700:710, 1500:1510] = np.arange(501, 601).reshape(10, 10)
    path = saved(tmp_path, values, compress="deflate", tiled=True)
    window = (WEST + 1501, NORTH - 709, WEST + 1509, NORTH - 701)
    reading = read_raster(path, window=window, max_cells=1000)
    inside = (reading.east > WEST + 1500) & (reading.east < WEST + 1510)
    inside &= (reading.north < NORTH - 700) & (reading.north > NORTH - 710)
    np.testing.assert_array_equal(reading.level[inside], np.arange(501, 601))
    assert "3,000 x 1,500 = 4,500,000 cells" in fault(path)
    assert "Give a boundary" in fault(path)
    assert "Draw a smaller boundary" in fault(path, window=window, max_cells=100)


def test_read_raster_when_the_point_is_the_pixel(tmp_path: Path) -> None:
    """A raster whose values belong to points has them at the points, half a cell from where an area would have them."""
    path = tmp_path / "points.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=60, height=40, count=1, dtype="float32", crs=UTM, transform=PLAIN
    ) as raster:
        raster.update_tags(AREA_OR_POINT="Point")
        raster.write(hills(), 1)
    with rasterio.open(path) as raster:
        corner = raster.transform.c, raster.transform.f
    reading = read_raster(path)
    assert (reading.east[0, 0], reading.north[0, 0]) == (corner[0] + 0.5, corner[1] - 0.5)


def test_read_raster_when_across_are_feet(tmp_path: Path) -> None:
    """Positions in U.S. survey feet come out in metres; levels of unsaid unit are refused, for both kinds exist."""
    transform = Affine(3.0, 0.0, 6_561_000.0, 0.0, -3.0, 1_822_000.0)
    path = saved(tmp_path, hills(), crs="EPSG:2229", transform=transform)
    assert "Give vertical-unit: m, ft or us-ft" in fault(path)
    reading = read_raster(path, vertical_unit="us-ft")
    row, column = np.mgrid[0:40, 0:60]
    east, north = by_hand(transform, row, column)
    # The false origin of the definition is itself rounded, to a thousandth of a foot.
    np.testing.assert_allclose(reading.east, east * 1200 / 3937, atol=3.1e-4, rtol=0)
    np.testing.assert_allclose(reading.north, north * 1200 / 3937, atol=3.1e-4, rtol=0)
    assert reading.cell == pytest.approx(3 * 1200 / 3937, rel=1e-6)
    assert CRS(reading.crs).axis_info[0].unit_conversion_factor == 1.0


def test_read_raster_when_in_degrees(tmp_path: Path) -> None:
    """Cells in degrees come out in metres: every distance between centres is the geodesic, to 1 mm in 100 m."""
    cell = 1e-5
    transform = Affine(cell, 0.0, 11.448, 0.0, -cell, 47.9935)
    reading = read_raster(saved(tmp_path, hills(), crs="EPSG:4326", transform=transform))
    row, column = np.mgrid[0:40, 0:60]
    lon, lat = by_hand(transform, row, column)
    random = np.random.default_rng(3)
    one, two = random.integers(0, lon.size, (2, 500))
    _, _, geodesic = Geod(ellps="WGS84").inv(lon.flat[one], lat.flat[one], lon.flat[two], lat.flat[two])
    plane = np.hypot(reading.east.flat[one] - reading.east.flat[two], reading.north.flat[one] - reading.north.flat[two])
    np.testing.assert_allclose(plane, geodesic, rtol=1e-5, atol=1e-9)
    assert any("brought to metres" in note for note in reading.note)
    assert reading.cell == pytest.approx(cell * 111_190, rel=1e-3)  # a degree of latitude at 48° N (from memory)


def test_read_raster_when_in_degrees_with_an_outline_in_local_axes(tmp_path: Path) -> None:
    """The window around an outline in axes made for the site holds the cells that the projection library puts there."""
    cell = 1e-5
    path = saved(tmp_path, hills(), crs="EPSG:4326", transform=Affine(cell, 0.0, 11.448, 0.0, -cell, 47.9935))
    axes = site_projection(11.4483, 47.9933)
    ring = np.array([[-6.0, -5.0], [6.0, -5.0], [6.0, 5.0], [-6.0, 5.0]])
    reading = read_raster(path, outline=[ring], site_crs=axes.to_wkt())
    lon, lat = Transformer.from_crs(axes, "EPSG:4326", always_xy=True).transform(reading.east, reading.north)
    column, row = np.floor((lon - 11.448) / cell).astype(int), np.floor((47.9935 - lat) / cell).astype(int)
    np.testing.assert_array_equal(reading.level, hills()[row, column])
    assert reading.east.min() < -6.0 < 6.0 < reading.east.max()
    assert reading.north.min() < -5.0 < 5.0 < reading.north.max()
    assert np.abs(reading.east).max() < 10.0


def test_read_raster_when_the_site_is_in_another_zone(tmp_path: Path) -> None:
    """A raster of one zone under a site of the next is carried over cell by cell, and comes out turned."""
    reading = read_raster(saved(tmp_path, hills()), site_crs="EPSG:25833")
    row, column = np.mgrid[0:40, 0:60]
    expected = Transformer.from_crs(UTM, "EPSG:25833", always_xy=True).transform(*by_hand(PLAIN, row, column))
    np.testing.assert_allclose([reading.east, reading.north], expected, atol=1e-6)
    assert reading.crs == "EPSG:25833"
    turned = math.degrees(
        math.atan2(reading.north[0, 1] - reading.north[0, 0], reading.east[0, 1] - reading.east[0, 0])
    )
    assert 2.0 < abs(turned) < 6.0


def test_read_raster_when_in_web_mercator(tmp_path: Path) -> None:
    """Web Mercator is never used as it is: brought to true metres, or refused when it was asked for."""
    transform = Affine(1.0, 0.0, 1_274_385.0, 0.0, -1.0, 6_106_854.0)
    path = saved(tmp_path, hills(), crs="EPSG:3857", transform=transform)
    reading = read_raster(path)
    lon, lat = Transformer.from_crs("EPSG:3857", "EPSG:4326", always_xy=True).transform(
        *by_hand(transform, 0, np.arange(2))
    )
    _, _, true = Geod(ellps="WGS84").inv(lon[0], lat[0], lon[1], lat[1])
    assert math.dist(
        (reading.east[0, 0], reading.north[0, 0]), (reading.east[0, 1], reading.north[0, 1])
    ) == pytest.approx(true, rel=1e-6)
    assert 0.6 < true < 0.7
    with pytest.raises(InputError, match="has distances wrong here"):
        read_raster(path, site_crs="EPSG:3857")


def test_read_raster_when_an_ascii_grid(tmp_path: Path) -> None:
    """An ASCII grid without a system needs to be told one, or that its axes are plain metres."""
    path = tmp_path / "ground.asc"
    head = "ncols 4\nnrows 3\nxllcorner 100\nyllcorner 200\ncellsize 2\nNODATA_value -9999\n"
    path.write_text(f"{head}1.5 2 3 4\n5 -9999 7 8\n9 10 11 12\n", encoding="utf-8")
    assert "Give [site] crs" in fault(path)
    reading = read_raster(path, site_crs="local")
    np.testing.assert_array_equal(reading.level, [[1.5, 2, 3, 4], [5, np.nan, 7, 8], [9, 10, 11, 12]])
    np.testing.assert_array_equal(reading.east[0], [101, 103, 105, 107])
    np.testing.assert_array_equal(reading.north[:, 0], [205, 203, 201])
    assert (reading.crs, reading.cell) == ("", 2.0)


def test_read_raster_when_it_takes_the_sites_system(tmp_path: Path) -> None:
    """A raster that names no system is taken in the site's, and that is said."""
    reading = read_raster(saved(tmp_path, hills(), crs=None), site_crs=UTM)
    assert reading.east[0, 0] == WEST + 0.5
    assert any("that of the site" in note for note in reading.note)


def test_read_raster_when_part_of_the_boundary_has_no_ground(tmp_path: Path) -> None:
    """A boundary that reaches beyond the raster, or over cells without a value, is read with both said."""
    values = hills()
    values[30:, :10] = np.nan
    ring = np.array([[-20.0, 5.0], [30.0, 5.0], [30.0, 38.0], [-20.0, 38.0]]) * [1, -1] + [WEST, NORTH]
    reading = read_raster(saved(tmp_path, values), outline=[ring])
    said = " / ".join(reading.note)
    assert "reaches beyond the raster" in said
    # Rows 30 to 37 of ten columns, of rows 5 to 37 of thirty.
    assert "80 of 990 cells inside the boundary have no value" in said
    values[5:38, :30] = np.nan
    assert "none of the 990 cells inside the boundary has a value" in fault(
        saved(tmp_path, values, name="empty.tif"), outline=[ring]
    )


def test_raster_axes_when_only_the_header_is_read(tmp_path: Path) -> None:
    """The axes are those that reading the raster uses."""
    path = saved(tmp_path, hills(), crs="EPSG:4326", transform=Affine(1e-5, 0.0, 11.448, 0.0, -1e-5, 47.9935))
    assert raster_axes(path).crs == read_raster(path).crs
