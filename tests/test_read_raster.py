"""Rasters in every dress: positions against an affine map by hand, levels against a plain gather, faults one by one."""

from __future__ import annotations

import math
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import rasterio
from affine import Affine
from pyproj import CRS, Geod, Transformer

from spadework.errors import InputError
from spadework.read.projection import site_projection
from spadework.read.raster import raster_axes, read_raster

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


def test_read_raster_when_values_have_scale_and_offset(tmp_path: Path) -> None:
    """Level is value times scale plus offset, then the unit."""
    values = np.round((hills() - 500.0) * 100).astype(np.int16)
    reading = read_raster(saved(tmp_path, values, scale=0.01, offset=500.0, unit="ft"))
    np.testing.assert_allclose(reading.level, (values * 0.01 + 500.0) * 0.3048, rtol=1e-15)
    assert any("times 0.01 plus 500" in note for note in reading.note)


@pytest.mark.parametrize(
    ("unit", "factor"),
    [
        ("m", 1.0),
        ("metre", 1.0),
        ("cm", 0.01),
        ("ft", 0.3048),
        ("US survey foot", 1200 / 3937),
        ("us-ft", 1200 / 3937),
    ],
)
@pytest.mark.parametrize("said_by", ["tag", "option"])
def test_read_raster_when_levels_have_a_unit(unit: str, factor: float, said_by: str, tmp_path: Path) -> None:
    """The band's unit, or the one asked for, turns levels to metres; both kinds of foot are exact by definition."""
    values = hills()
    path = saved(tmp_path, values, unit=unit if said_by == "tag" else "mm")
    reading = read_raster(path, vertical_unit=unit if said_by == "option" else None)
    np.testing.assert_allclose(reading.level, values.astype(np.float64) * factor, rtol=1e-15)
    assert any(unit in note for note in reading.note)


def test_read_raster_when_the_system_has_a_vertical_axis(tmp_path: Path) -> None:
    """A compound system says the vertical unit: U.S. survey feet, 1200/3937 m each."""
    values = hills()
    reading = read_raster(saved(tmp_path, values, crs="EPSG:26915+6360"))
    np.testing.assert_allclose(reading.level, values.astype(np.float64) * 1200 / 3937, rtol=1e-12)
    assert reading.crs == "EPSG:26915"


def test_read_raster_when_the_unit_is_said_nowhere(tmp_path: Path) -> None:
    """With metres across, metres up are taken, and it is said."""
    assert any("taken in metres" in note for note in read_raster(saved(tmp_path, hills())).note)


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


@pytest.mark.parametrize("kind", ["declared", "not a number", "mask", "option", "infinite"])
def test_read_raster_when_cells_have_no_value(kind: str, tmp_path: Path) -> None:
    """Declared numbers, NaN, masks and a number given by the caller all come out as NaN; the rest keeps its level."""
    values = hills()
    missing = np.zeros(values.shape, dtype=bool)
    missing[3:7, 50:] = True
    options: dict[str, Any] = {}
    profile: dict[str, Any] = {}
    if kind == "declared":
        values[missing], profile["nodata"] = -9999.0, -9999.0
    elif kind == "not a number":
        values[missing] = np.nan
    elif kind == "mask":
        values[missing], profile["mask"] = 777.0, ~missing
    elif kind == "infinite":
        values[missing] = -np.inf
    else:
        values[missing], options["nodata"] = 777.0, 777.0
    reading = read_raster(saved(tmp_path, values, **profile), **options)
    np.testing.assert_array_equal(np.isnan(reading.level), missing)
    np.testing.assert_array_equal(reading.level[~missing], values[~missing])
    assert any("40 of 2,400 cells have no value" in note for note in reading.note)


@pytest.mark.parametrize("stand_in", [-9999, -32768, 0, 32767])
def test_read_raster_when_a_stand_in_is_not_declared(stand_in: int, tmp_path: Path) -> None:
    """A number far from all others that is commonly written for no value is refused, with the way out."""
    values = np.round(hills()).astype(np.int16)
    values[:2, :5] = stand_in
    path = saved(tmp_path, values)
    told = fault(path)
    others = values[values != stand_in]
    assert f"10 cell(s) hold {stand_in}, all others lie from {others.min()} to {others.max()}" in told
    assert f"Give nodata = {stand_in}" in told
    assert "declares no such number" in told
    assert np.isnan(read_raster(path, nodata=stand_in).level).sum() == 10


def test_read_raster_when_a_stand_in_is_declared_wrongly(tmp_path: Path) -> None:
    """A file that declares another number than it uses is found out."""
    values = hills()
    values[0, 0] = np.finfo(np.float32).min
    told = fault(saved(tmp_path, values, nodata=-9999.0))
    assert "1 cell(s) hold -3.40282e+38" in told
    assert "declares -9999 for that" in told


def test_read_raster_when_the_shore_is_at_nought(tmp_path: Path) -> None:
    """Nought beside low ground is a level like any other."""
    values = hills() - 500.0
    values[:2, :5] = 0.0
    assert np.isfinite(read_raster(saved(tmp_path, values)).level).all()


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


def test_read_raster_when_so_high_up_that_a_tape_differs(tmp_path: Path) -> None:
    """At 2,000 m a tape is longer than the plan by 2,000 in 6,371,009."""
    said = " / ".join(read_raster(saved(tmp_path, hills() + 1500.0)).note)
    assert "taped distances are 1 in 3,1" in said
    assert 3_100 < 6_371_009 / 2_000 < 3_200


def test_read_raster_when_levels_are_whole_metres(tmp_path: Path) -> None:
    """Levels in whole metres are read, and said to be too coarse."""
    said = read_raster(saved(tmp_path, np.round(hills()).astype(np.int16))).note
    assert any("steps of 1 m: too coarse" in note for note in said)


def test_raster_axes_when_only_the_header_is_read(tmp_path: Path) -> None:
    """The axes are those that reading the raster uses."""
    path = saved(tmp_path, hills(), crs="EPSG:4326", transform=Affine(1e-5, 0.0, 11.448, 0.0, -1e-5, 47.9935))
    assert raster_axes(path).crs == read_raster(path).crs


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


def test_read_raster_when_nothing_has_a_value(tmp_path: Path) -> None:
    """A raster of holes only is refused."""
    path = saved(tmp_path, np.full((20, 30), -9999.0, dtype=np.float32), nodata=-9999.0)
    assert "none of the 600 cells here has a value" in fault(path)


@pytest.mark.parametrize(("shift", "unit"), [(9_500.0, "m"), (-1_200.0, "m")])
def test_read_raster_when_levels_are_out_of_this_world(shift: float, unit: str, tmp_path: Path) -> None:
    """Levels that no land has are refused."""
    assert "Land lies between -500 and 9,000 m" in fault(saved(tmp_path, hills() + shift, unit=unit))


def test_read_raster_when_units_contradict_or_are_unknown(tmp_path: Path) -> None:
    """A band and a system that say different units, and a word that is none, are refused; the option settles it."""
    path = saved(tmp_path, hills(), crs="EPSG:26915+6360", unit="m")
    assert "the band says 'm', the coordinate reference system says 'US survey foot'" in fault(path)
    assert read_raster(path, vertical_unit="m").level[0, 0] == hills()[0, 0]
    assert "the vertical unit 'fathom' is not known" in fault(saved(tmp_path, hills(), unit="fathom", name="b.tif"))


def test_read_raster_when_values_are_depths(tmp_path: Path) -> None:
    """A system whose vertical axis points down holds depths: refused."""
    path = saved(tmp_path, hills(), crs="EPSG:25832+5715")
    assert "they are depths" in fault(path)


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
