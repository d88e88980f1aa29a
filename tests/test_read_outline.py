"""Outlines from GeoJSON: kinds, axes, what is tidied, and every fault with its line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import CRS, Geod, Transformer

from spadework.errors import InputError
from spadework.read.outline import outline_centre, read_outline

SQUARE = [[11.4480, 47.9930], [11.4484, 47.9930], [11.4484, 47.9933], [11.4480, 47.9933], [11.4480, 47.9930]]
HOLE = [[11.4481, 47.9931], [11.4481, 47.9932], [11.4482, 47.9932], [11.4482, 47.9931], [11.4481, 47.9931]]
IN_METRES = [[0.0, 0.0], [30.0, 0.0], [30.0, 20.0], [0.0, 20.0], [0.0, 0.0]]


def polygon(*rings: list[Any]) -> dict[str, Any]:
    """Return a polygon geometry."""
    return {"type": "Polygon", "coordinates": list(rings)}


def feature(geometry: dict[str, Any] | None, **properties: object) -> dict[str, Any]:
    """Return a feature."""
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def collection(*features: dict[str, Any], **members: object) -> dict[str, Any]:
    """Return a feature collection."""
    return {"type": "FeatureCollection", "features": list(features), **members}


def saved(folder: Path, content: object) -> Path:
    """Write GeoJSON, one value a line so that lines are worth naming."""
    path = folder / "plot.geojson"
    path.write_text(json.dumps(content, indent=1), encoding="utf-8")
    return path


def faults(path: Path, **options: str) -> list[str]:
    """Return the faults of an outline, as lines."""
    with pytest.raises(InputError) as caught:
        read_outline(path, **options)
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize(
    "content",
    [
        polygon(SQUARE),
        feature(polygon(SQUARE), name="plot"),
        collection(feature(polygon(SQUARE))),
        {"type": "MultiPolygon", "coordinates": [[SQUARE]]},
        {"type": "GeometryCollection", "geometries": [polygon(SQUARE)]},
    ],
    ids=["polygon", "feature", "collection", "multipolygon", "geometrycollection"],
)
def test_read_outline_when_the_polygon_is_wrapped(content: dict[str, Any], tmp_path: Path) -> None:
    """However the polygon is wrapped, its corners are those that the projection library gives by itself."""
    outline = read_outline(saved(tmp_path, content), site_crs="EPSG:25832")
    transformer = Transformer.from_crs("OGC:CRS84", "EPSG:25832", always_xy=True)
    expected = np.column_stack(transformer.transform(*np.array(SQUARE[:4]).T))
    assert len(outline.areas) == 1
    np.testing.assert_allclose(outline.rings[0], expected, atol=1e-6)
    assert outline.crs == "EPSG:25832"


def test_read_outline_when_axes_are_made_for_it(tmp_path: Path) -> None:
    """Without axes given they are made: sides and area are the geodesic ones, and the middle of the bounds is zero."""
    path = saved(tmp_path, polygon(SQUARE, HOLE))
    outline = read_outline(path)
    geod = Geod(ellps="WGS84")
    ring, hole = outline.rings
    sides = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    _, _, expected = geod.inv(*np.array(SQUARE[:4]).T, *np.array(SQUARE[1:]).T)
    np.testing.assert_allclose(sides, expected, atol=1e-6)
    area = shapely.Polygon(ring, [hole]).area
    corners = np.array(SQUARE), np.array(HOLE)
    geodesic = [abs(geod.polygon_area_perimeter(*corner.T)[0]) for corner in corners]
    assert area == pytest.approx(geodesic[0] - geodesic[1], abs=1e-4)
    np.testing.assert_allclose((ring.min(axis=0) + ring.max(axis=0)) / 2, 0.0, atol=0.06)
    assert CRS(outline.crs).is_projected
    assert outline_centre(path)[:2] == (11.4482, 47.99315)


def test_read_outline_when_rings_run_the_wrong_way(tmp_path: Path) -> None:
    """The outer ring comes out counter-clockwise, holes clockwise, whichever way they were drawn."""
    outline = read_outline(saved(tmp_path, polygon(SQUARE[::-1], HOLE[::-1])))
    assert [shapely.LinearRing(ring).is_ccw for ring in outline.rings] == [True, False]


def test_read_outline_when_features_have_names(tmp_path: Path) -> None:
    """Names and roles come from the properties; points are marks; what has no name gets one."""
    content = collection(
        feature(polygon(SQUARE), Name="Plot 7", role="boundary"),
        feature(polygon(HOLE), role="keep-out"),
        feature({"type": "Point", "coordinates": [11.448, 47.993]}, name="G1"),
        feature({"type": "MultiPoint", "coordinates": [[11.448, 47.993], [11.4481, 47.993]]}),
    )
    outline = read_outline(saved(tmp_path, content), site_crs="EPSG:25832")
    assert [(area.name, area.role) for area in outline.areas] == [("Plot 7", "boundary"), ("area 2", "keep-out")]
    assert [mark.name for mark in outline.marks] == ["G1", "point 2", "point 3"]
    assert outline.area() is outline.areas[0]
    assert outline.area("AREA 2") is outline.areas[1]
    assert (outline.marks[0].east, outline.marks[0].north) == pytest.approx(tuple(outline.rings[0][0]), abs=1e-9)


def test_read_outline_when_a_polygon_has_two_parts(tmp_path: Path) -> None:
    """Each part is an area of its own, and the boundary has to be chosen by name."""
    content = feature(
        {"type": "MultiPolygon", "coordinates": [[SQUARE], [[[p[0] + 1, p[1]] for p in SQUARE]]]}, name="farm"
    )
    outline = read_outline(saved(tmp_path, content))
    assert [area.name for area in outline.areas] == ["farm (1 of 2)", "farm (2 of 2)"]
    with pytest.raises(InputError, match=r"2 area\(s\) in it.*'farm \(1 of 2\)', 'farm \(2 of 2\)'"):
        outline.area()
    with pytest.raises(InputError, match=r"no area.* called 'field'"):
        outline.area("field")


@pytest.mark.parametrize("name", ["EPSG:25832", "urn:ogc:def:crs:EPSG::25832"])
def test_read_outline_when_a_legacy_member_names_the_system(name: str, tmp_path: Path) -> None:
    """The crs member of the format of 2008 is obeyed: metres stay what they were, and it is said."""
    ring = [[east + 682_600.0, north + 5_318_400.0] for east, north in IN_METRES]
    content = collection(feature(polygon(ring)), crs={"type": "name", "properties": {"name": name}})
    outline = read_outline(saved(tmp_path, content))
    np.testing.assert_array_equal(outline.rings[0], ring[:4])
    assert outline.crs == "EPSG:25832"
    assert any("as the crs member says" in note for note in outline.note)


def test_read_outline_when_the_option_overrules_the_file(tmp_path: Path) -> None:
    """A system given by the caller goes before the file's, and that is said."""
    content = collection(feature(polygon(IN_METRES)), crs={"type": "name", "properties": {"name": "EPSG:25832"}})
    outline = read_outline(saved(tmp_path, content), crs="site", site_crs="local")
    np.testing.assert_array_equal(outline.rings[0], IN_METRES[:4])
    assert outline.crs == ""
    assert outline.note == ("read in site, not in EPSG:25832 as its crs member says",)


def test_read_outline_when_the_grid_counts_feet(tmp_path: Path) -> None:
    """An outline in U.S. survey feet comes out in metres: times 1200/3937."""
    ring = [[6_561_000.0 + east, 1_822_000.0 + north] for east, north in IN_METRES]
    outline = read_outline(saved(tmp_path, polygon(ring)), crs="EPSG:2229")
    np.testing.assert_allclose(outline.rings[0], np.array(ring[:4]) * 1200 / 3937, atol=3.1e-4)


def test_read_outline_when_it_is_a_little_untidy(tmp_path: Path) -> None:
    """An open ring is closed, a corner written twice is kept once, heights are left aside; each is said."""
    ring = [[*SQUARE[0], 541.0], SQUARE[1], SQUARE[1], SQUARE[2], SQUARE[3]]
    outline = read_outline(saved(tmp_path, polygon(ring)), site_crs="EPSG:25832")
    assert len(outline.rings[0]) == 4
    assert sum("closed" in note for note in outline.note) == 1
    assert sum("twice" in note for note in outline.note) == 1
    assert sum("height" in note for note in outline.note) == 1


def test_read_outline_when_the_file_has_a_byte_order_mark(tmp_path: Path) -> None:
    """A byte-order mark before the text is no fault."""
    path = tmp_path / "plot.geojson"
    path.write_text(json.dumps(polygon(SQUARE)), encoding="utf-8-sig")
    assert len(read_outline(path).areas) == 1


def test_read_outline_when_many_things_are_wrong(tmp_path: Path) -> None:
    """Every fault is told in one go, each with its line as counted in the file and the way to it."""
    bad = [[*SQUARE[:2], [11.4484, "47.9933"], [11.4480], [float("nan"), 47.0]]]
    content = collection(
        feature(polygon(*bad), name="one"),
        feature({"type": "LineString", "coordinates": SQUARE}, name="fence"),
        feature({"type": "Poligon", "coordinates": []}),
        feature(None, name="three"),
        feature(polygon(SQUARE[:2])),
        crs={"type": "link"},
    )
    path = saved(tmp_path, content)
    told = faults(path)
    assert len(told) == 8
    lines = path.read_text(encoding="utf-8").splitlines()
    where = next(index for index, line in enumerate(lines, 1) if '"47.9933"' in line) - 2
    assert f"line {where}, column features[0].geometry.coordinates[0][2]: this is not a position" in told[0]
    assert lines[where - 1].strip() == "["
    assert "is not a position" in told[1]
    assert "not finite" in told[2]
    assert "'fence' is a line (LineString)" in told[3]
    assert "Did you mean 'Polygon'?" in told[4]
    assert "feature 'three' has no geometry" in told[5]
    assert "2 different corner(s)" in told[6]
    assert "crs member names no coordinate reference system" in told[7]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the file is empty"),
        ("  \n", "the file is empty"),
        ('{"type": "Polygon",\n "coordinates": [[[1, 2], [3 4]]]}', "line 2: Expecting ',' delimiter at character 30"),
        ("point,east,north\nF1,0,0\n", "line 1: Expecting value at character 1: this is not JSON"),
        ("[" * 100_000, "nested far too deep"),
        ("[1, 2]", "a GeoJSON object in braces belongs here"),
        ('{"features": []}', "the member type is missing"),
        ('{"type": "FeatureCollection", "features": []}', "there is nothing in features"),
        ('{"type": "Polygon"}', "the Polygon has no coordinates"),
        ('{"type": "Polygon", "coordinates": [5]}', "a ring in square brackets belongs here"),
        ('{"type": "MultiPolygon", "coordinates": [5]}', "a polygon belongs here"),
        ('{"type": "Point", "coordinates": [true, 1]}', "this is not a position"),
        ('{"type": "Point", "coordinates": [1e999, 1]}', "not finite"),
    ],
)
def test_read_outline_when_the_text_is_no_outline(text: str, says: str, tmp_path: Path) -> None:
    """A text that is no GeoJSON gets one clear message."""
    path = tmp_path / "plot.geojson"
    path.write_text(text, encoding="utf-8")
    told = faults(path)
    assert len(told) == 1
    assert says in told[0]
    assert "plot.geojson" in told[0]


def test_read_outline_when_the_file_is_binary_or_missing(tmp_path: Path) -> None:
    """A binary file, a folder and a missing file are told apart from a broken one."""
    path = tmp_path / "plot.shp"
    path.write_bytes(b"\x00\x00\x27\x0a\xff\xfe\x80")
    assert "this is not text" in faults(path)[0]
    assert "cannot be read: No such file" in faults(tmp_path / "nowhere.geojson")[0]
    assert "cannot be read" in faults(tmp_path)[0]


@pytest.mark.parametrize(
    ("ring", "remedy"),
    [
        ([[682_600, 5_318_400], [682_630, 5_318_400], [682_630, 5_318_420]], "look like metres"),
        ([[-41.3, 174.8], [-41.3, 174.9], [-41.2, 174.9]], "have changed places"),
    ],
)
def test_read_outline_when_degrees_are_none(ring: list[list[float]], remedy: str, tmp_path: Path) -> None:
    """Numbers that cannot be longitude and latitude are refused, with the likely reason."""
    told = faults(saved(tmp_path, polygon(ring)))
    assert "is no longitude and latitude (3 corner(s) like it)" in told[0]
    assert remedy in told[0]


@pytest.mark.parametrize(
    ("rings", "says"),
    [
        ([[[0, 0], [10, 10], [10, 0], [0, 10]]], "Self-intersection"),
        ([[[0, 0], [5, 0], [10, 0]]], "is not a proper area"),
        ([IN_METRES, [[40, 40], [41, 40], [41, 41]]], "Hole lies outside shell"),
    ],
    ids=["bow tie", "flat", "stray hole"],
)
def test_read_outline_when_edges_cross(rings: list[list[list[float]]], says: str, tmp_path: Path) -> None:
    """An area that crosses itself, is flat or has a hole elsewhere is refused."""
    told = faults(saved(tmp_path, feature(polygon(*rings), name="plot")), crs="site", site_crs="local")
    assert says in told[0]
    assert "'plot'" in told[0]


def test_read_outline_when_the_site_has_no_place_on_earth(tmp_path: Path) -> None:
    """Degrees cannot be laid over a site in plain metres: the two ways out are named."""
    told = faults(saved(tmp_path, polygon(SQUARE)), site_crs="local")
    assert "the site has axes of its own" in told[0]
    assert 'say crs = "site"' in told[0]


def test_read_outline_when_it_lies_outside_the_projection(tmp_path: Path) -> None:
    """A place where the site's projection has no coordinates is refused."""
    told = faults(saved(tmp_path, polygon([[p[0] + 90.0, 0.0 + p[1] - 47.993] for p in SQUARE])), site_crs="EPSG:32632")
    assert "has no coordinates" in told[0]


def test_read_outline_when_the_file_is_huge(tmp_path: Path) -> None:
    """A file of more than 50 MB is refused before it is read."""
    path = tmp_path / "plot.geojson"
    with path.open("wb") as stream:
        stream.truncate(60_000_000)
    assert "the file has 60 MB" in faults(path)[0]


def test_read_outline_when_the_site_counts_feet_or_degrees(tmp_path: Path) -> None:
    """A site system in feet is brought to metres, one in degrees is refused."""
    path = saved(tmp_path, polygon([[p[0] - 129.5, p[1] - 14.0] for p in SQUARE]))
    feet = Transformer.from_crs("OGC:CRS84", "EPSG:2229", always_xy=True).transform(-118.052, 33.993)
    outline = read_outline(path, site_crs="EPSG:2229")
    np.testing.assert_allclose(outline.rings[0][0], np.array(feet) * 1200 / 3937, atol=3.1e-4)
    assert CRS(outline.crs).axis_info[0].unit_name == "metre"
    assert "counts degrees, not metres" in faults(path, site_crs="EPSG:4326")[0]
