"""Stakes as GeoJSON, GPX and KML: valid against the published schemas, and where they should be on the Earth."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import gpxpy
import numpy as np
import pytest
import shapely
from lxml import etree
from pyproj import Geod

from sample_plan import HOSTILE, sample_plan
from spadework.plan import Plan
from spadework.stakeout import depth_mark
from spadework.units import LengthUnit
from spadework.write.geojson_file import geojson_bytes
from spadework.write.gpx_file import gpx_bytes
from spadework.write.kml_file import kml_bytes
from spadework.write.place_on_earth import earth_of, has_place_on_earth

SCHEMAS = Path(__file__).parent / "schemas"
LATITUDE, LONGITUDE = 52.0, 8.0
CRS = f"+proj=tmerc +lat_0={LATITUDE} +lon_0={LONGITUDE} +k=1 +x_0=0 +y_0=0 +ellps=WGS84 +units=m +type=crs"
MAKERS = {"geojson": geojson_bytes, "gpx": gpx_bytes, "kml": kml_bytes}


def placed_plan(**changes: object) -> Plan:
    """The sample plan with its axes on the Earth."""
    return sample_plan(**{"crs": CRS, **changes})  # type: ignore[arg-type]


def hostile_plan() -> Plan:
    """A plan whose names would break a file that does not take words as words."""
    plan = placed_plan(name=HOSTILE + "\x00\x0b]]>")
    name = HOSTILE + "]]>"
    references = tuple((name + called, east, north) for called, east, north in plan.references)
    stakes = tuple(replace(s, ties=tuple(replace(tie, reference=name) for tie in s.ties)) for s in plan.stakeout.stakes)
    return replace(plan, stakeout=replace(plan.stakeout, references=references, stakes=stakes))


def schema(name: str) -> Any:
    """A published schema."""
    return etree.XMLSchema(etree.parse(SCHEMAS / name))


@pytest.mark.parametrize("plan", [placed_plan(), hostile_plan()], ids=["plain", "hostile"])
def test_gpx_is_valid_against_the_published_schema(plan: Plan) -> None:
    """GPX 1.1, with every stake and reference, also when names hold what XML cannot."""
    tree = etree.fromstring(gpx_bytes(plan))
    schema("gpx-1.1.xsd").assertValid(tree)
    assert len(tree.findall("{*}wpt")) == len(plan.stakeout.all_stakes) + 2
    assert len(tree.findall("{*}rte/{*}rtept")) == 5


@pytest.mark.parametrize("plan", [placed_plan(), hostile_plan()], ids=["plain", "hostile"])
def test_kml_is_valid_against_the_published_schema(plan: Plan) -> None:
    """OGC KML 2.2, with every stake, reference and the pad."""
    tree = etree.fromstring(kml_bytes(plan))
    schema("ogckml22.xsd").assertValid(tree)
    assert len(tree.findall(".//{*}Placemark")) == len(plan.stakeout.all_stakes) + 3


def test_schemas_refuse_what_is_not_valid() -> None:
    """The schemas bite: a waypoint without a place, and a placemark with its name after its point."""
    tree = etree.fromstring(gpx_bytes(placed_plan()))
    del tree.find("{*}wpt").attrib["lat"]
    assert not schema("gpx-1.1.xsd").validate(tree)
    tree = etree.fromstring(kml_bytes(placed_plan()))
    mark = tree.find(".//{*}Placemark")
    mark.append(mark.find("{*}name"))
    assert not schema("ogckml22.xsd").validate(tree)


def test_gpx_is_read_by_an_independent_library() -> None:
    """Names in the order in which they are set, places where an ellipsoid's radii put them."""
    plan = placed_plan()
    read = gpxpy.parse(gpx_bytes(plan).decode("utf-8"))
    stakes = plan.stakeout.ordered()
    assert [point.name for point in read.waypoints][: len(stakes)] == [stake.name for stake in stakes]
    assert [point.elevation for point in read.waypoints] == [None] * len(read.waypoints)
    for point, stake in zip(read.waypoints, stakes, strict=False):
        longitude, latitude = on_ellipsoid(stake.east, stake.north)
        assert point.longitude == pytest.approx(longitude, abs=2e-9)
        assert point.latitude == pytest.approx(latitude, abs=2e-9)
        assert depth_mark(stake.depth, LengthUnit.METRE) in point.description


def on_ellipsoid(east: float, north: float) -> tuple[float, float]:
    """Longitude and latitude of a place near the origin, by the radii of curvature of WGS 84. [deg]"""
    a, e2 = 6378137.0, 6.69437999014e-3
    sine = math.sin(math.radians(LATITUDE))
    across = a / math.sqrt(1 - e2 * sine**2)
    along = a * (1 - e2) / (1 - e2 * sine**2) ** 1.5
    return (
        LONGITUDE + math.degrees(east / (across * math.cos(math.radians(LATITUDE)))),
        LATITUDE + math.degrees(north / along),
    )


def test_geojson_is_read_by_an_independent_library() -> None:
    """A valid polygon, its outer ring counter-clockwise as RFC 7946 asks, with sides as long as the pad's."""
    plan = placed_plan()
    document = json.loads(geojson_bytes(plan))
    pad = shapely.from_geojson(json.dumps(document["features"][0]))
    assert pad.is_valid
    assert shapely.is_ccw(pad.exterior)
    longitude, latitude = np.array(pad.exterior.coords).T
    geod = Geod(ellps="WGS84")
    sides = geod.inv(longitude[:-1], latitude[:-1], longitude[1:], latitude[1:])[2]
    assert sorted(sides) == pytest.approx([3.6, 3.6, 5.4, 5.4], abs=3e-4)
    points = {f["properties"]["name"]: f for f in document["features"][1:]}
    for stake in plan.stakeout.all_stakes:
        found = points[stake.name]
        assert found["geometry"]["coordinates"] == pytest.approx(on_ellipsoid(stake.east, stake.north), abs=2e-9)
        assert found["properties"]["depth_m"] == pytest.approx(stake.depth)
        assert found["properties"]["mark"] == depth_mark(stake.depth, LengthUnit.METRE)
    assert points["H1"]["properties"]["role"] == "reference"


@pytest.mark.parametrize("name", list(MAKERS))
def test_file_repeats_to_the_byte(name: str) -> None:
    """The same plan gives the same file."""
    assert MAKERS[name](placed_plan()) == MAKERS[name](placed_plan())


def test_positions_say_how_far_they_can_be_trusted() -> None:
    """British grid to WGS 84 is metres off without its grid file, which is said; within WGS 84 nothing is lost."""
    plan = placed_plan(crs="EPSG:27700")
    best = replace(plan.search.best, placement=replace(plan.search.best.placement, east=530000.0, north=180000.0))
    words = earth_of(replace(plan, search=replace(plan.search, best=best))).words
    assert re.search(r"EPSG:27700 to WGS 84, good to about \d+ m\.", words)
    assert "set the stakes by tape" in words
    assert "to WGS 84. They show" in earth_of(placed_plan(crs="EPSG:32632")).words


@pytest.mark.parametrize(("crs", "placed"), [("", False), ("local", False), ("EPSG:32632", True)])
def test_site_has_a_place_on_earth_only_with_a_system(crs: str, placed: bool) -> None:
    """Local axes are nowhere on the Earth."""
    assert has_place_on_earth(sample_plan(crs=crs)) is placed


def test_axes_in_feet_are_turned_by_their_own_unit() -> None:
    """The same place by a system in feet: its numbers are feet, the plan's are metres."""
    feet = earth_of(placed_plan(crs=CRS.replace("+units=m", "+units=ft")))
    metres = earth_of(placed_plan())
    east, north = np.array([120.0]), np.array([-75.0])
    assert feet.longitude_latitude(east, north).tolist() == metres.longitude_latitude(east, north).tolist()
