"""Tracks of a phone: GPX and tables, metres that are true, and heights that are refused."""

from __future__ import annotations

from pathlib import Path

import gpxpy.gpx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from spadework.errors import InputError
from spadework.read import read_text
from spadework.read.track import project_track
from spadework.readings_positions import TrackPoints
from spadework.site import load_site
from spadework.survey import load_survey

degrees = st.tuples(st.floats(-60, 60), st.floats(-179, 179))
names = st.text("ABCxyz 0123456789&<>'\"é", min_size=1, max_size=8).map(str.strip).filter(bool)
around = st.floats(-0.001, 0.001)


def track_of(text: str) -> TrackPoints:
    """Read a track."""
    reading = read_text(text).reading
    assert isinstance(reading, TrackPoints)
    return reading


@settings(deadline=None, max_examples=30)
@given(degrees, st.lists(st.tuples(around, around, st.none() | st.floats(-100, 4000), names), min_size=1, max_size=8))
def test_gpx_comes_back_when_another_library_wrote_it(
    middle: tuple[float, float], points: list[tuple[float, float, float | None, str]]
) -> None:
    """Waypoints and track points written by a general GPX library come back with names, places and heights."""
    written = gpxpy.gpx.GPX()
    track = gpxpy.gpx.GPXTrack()
    track.segments.append(gpxpy.gpx.GPXTrackSegment())
    written.tracks.append(track)
    for lat, lon, height, name in points:
        place = {"latitude": middle[0] + lat, "longitude": middle[1] + lon, "elevation": height}
        written.waypoints.append(gpxpy.gpx.GPXWaypoint(name=name, **place))
        track.segments[0].points.append(gpxpy.gpx.GPXTrackPoint(**place))
    read = track_of(written.to_xml())
    assert read.point[: len(points)] == tuple(" ".join(name.split()) for *_, name in points)
    assert read.point[len(points) :] == tuple(f"T{number}" for number in range(1, len(points) + 1))
    again = gpxpy.parse(written.to_xml())
    np.testing.assert_array_equal(read.latitude[: len(points)], [point.latitude for point in again.waypoints])
    np.testing.assert_array_equal(read.longitude[: len(points)], [point.longitude for point in again.waypoints])
    heights = [np.nan if point.elevation is None else point.elevation for point in again.waypoints]
    np.testing.assert_array_equal(read.height[: len(points)], heights)


@settings(deadline=None, max_examples=15)
@given(degrees, st.lists(st.tuples(around, around), min_size=2, max_size=5, unique=True))
def test_distances_are_geodesic_when_a_track_is_projected(
    middle: tuple[float, float], points: list[tuple[float, float]]
) -> None:
    """Distances between projected points are those on the ellipsoid to 1 mm in 100 m, by another library."""
    lat = np.array([middle[0] + row[0] for row in points])
    lon = np.array([middle[1] + row[1] for row in points])
    nothing = np.full(len(points), np.nan)
    rows = np.arange(1, len(points) + 1)
    track = TrackPoints(tuple(map(str, rows)), ("",) * len(points), rows, "a.gpx", lon, lat, nothing)
    read, _, notices = project_track(track)
    _, _, wanted = Geod(ellps="WGS84").inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    found = np.hypot(np.diff(read.east), np.diff(read.north))
    np.testing.assert_allclose(found, wanted, rtol=1e-5, atol=1e-6)
    assert notices == ()


def test_table_is_read_when_it_has_latitude_and_longitude() -> None:
    """Latitude and longitude as decimal degrees or degrees-minutes-seconds, in either order."""
    track = track_of("name,lon,lat,ele (m)\nA,-0.120000,51.500000,18.2\nB,0-07-12.0,51-30-00,\n")
    assert track.longitude == pytest.approx([-0.12, 0.12], abs=1e-9)
    assert track.latitude == pytest.approx([51.5, 51.5])
    assert track.height[0] == pytest.approx(18.2)


BROKEN = [
    ("<gpx><wpt lat='51' lon='0'></gpx>", "not well-formed"),
    ("<gpx><wpt lat='95' lon='0'/></gpx>", "lat = '95'"),
    ("<gpx><wpt lon='0'/></gpx>", "no lat"),
    ("<gpx></gpx>", "no waypoint"),
    ("<kml></kml>", "root element 'kml'"),
    ('<!DOCTYPE gpx [<!ENTITY a "b">]><gpx><wpt lat="1" lon="2"/></gpx>', "document type"),
    ("<gpx>" + "<a>" * 100 + "</a>" * 100 + "</gpx>", "nest more than 60"),
]


@pytest.mark.parametrize(("text", "message"), BROKEN, ids=[row[1] for row in BROKEN])
def test_broken_gpx_is_refused_when_read(text: str, message: str) -> None:
    """Broken and hostile files are refused with a line."""
    with pytest.raises(InputError, match=message) as raised:
        read_text(text)
    assert raised.value.faults[0].source.line


def test_points_are_refused_when_one_lies_in_another_town() -> None:
    """A point 100 km away is no point of the yard."""
    track = track_of("point,lat,lon\nA,51.5,0\nB,51.5001,0\nC,52.5,0\n")
    with pytest.raises(InputError, match=r"C lies 111\.\d km"):
        project_track(track)


GPX = (
    "<gpx><wpt lat='51.5000' lon='0.0000'><ele>20</ele><name>P1</name></wpt>"
    "<wpt lat='51.5002' lon='0.0000'><ele>21</ele><name>P2</name></wpt>"
    "<wpt lat='51.5002' lon='0.0003'><ele>22</ele><name>P3</name></wpt></gpx>"
)


def site(folder: Path, more: str = "", rest: str = "") -> Path:
    """Write a site that is measured by a track."""
    (folder / "walk.gpx").write_text(GPX, encoding="utf-8")
    text = f'[site]\nunits = "m"\n[[readings]]\nfile = "walk.gpx"\n{more}\n{rest}\n[pad]\nsize = ["3 m", "2 m"]\n'
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return folder


def test_heights_are_refused_when_a_phone_gives_them(tmp_path: Path) -> None:
    """Without levels there is no ground; the refusal names the published accuracy."""
    (tmp_path / "book.csv").write_text(
        "point,BS (m),IS (m),FS (m)\nP1,1.5,,\nP2,,1.2,\nP3,,1.1,\nP1,,,1.5\n", encoding="utf-8"
    )
    rest = '[[readings]]\nfile = "book.csv"\n'
    folder = site(tmp_path, rest=rest)
    text = (folder / "site.toml").read_text(encoding="utf-8")
    text = text.replace('units = "m"', 'units = "m"\ndatum = { point = "P1", level = 50.0 }')
    (folder / "site.toml").write_text(text, encoding="utf-8")
    survey = load_survey(load_site(folder))
    assert survey.shots is not None
    assert sorted(survey.shots.level.round(3).tolist()) == [50.0, 50.3, 50.4]
    told = [notice for notice in survey.notices if "heights of walk.gpx left out" in notice]
    assert len(told) == 1
    assert "1.65 m in height" in told[0]
    assert not survey.coarse_levels
    assert survey.crs


def test_heights_are_taken_when_insisted_on(tmp_path: Path) -> None:
    """take-heights makes a ground of them, and marks every result as coarse."""
    survey = load_survey(load_site(site(tmp_path, "take-heights = true")))
    assert survey.ground.level.tolist() == [20, 21, 22]
    assert survey.coarse_levels


def test_track_is_fitted_when_the_yard_has_axes_of_its_own(tmp_path: Path) -> None:
    """A track beside taped points is refused unless it is fitted to them."""
    (tmp_path / "p.csv").write_text(
        "point,east (m),north (m),level (m)\nP1,100,50,20\nP2,100,72.252,21\nX,110,60,22\n", encoding="utf-8"
    )
    rest = '[[readings]]\nfile = "p.csv"\n'
    with pytest.raises(InputError, match=r"lies on the Earth, and p\.csv in axes of its own"):
        load_survey(load_site(site(tmp_path, rest=rest)))
    survey = load_survey(load_site(site(tmp_path, 'fit = "turn"', rest)))
    assert survey.shots is not None
    row = survey.shots.rows("P3")[0]
    assert (survey.shots.east[row], survey.shots.north[row]) == pytest.approx((120.83, 72.252), abs=0.03)
    assert survey.crs == ""
