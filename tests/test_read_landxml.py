"""LandXML: points and surfaces in, with their own triangles."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.read import read_text
from spadework.readings import PointList
from spadework.readings_positions import SurfaceReading
from spadework.site import load_site
from spadework.survey import load_survey

HEAD = '<?xml version="1.0"?>\n<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">\n'
UNITS = '<Units><Metric linearUnit="meter"/></Units>\n'
POINTS = (
    '<CgPoints><CgPoint name="7" code="TREE">20.5 10.25 101.5</CgPoint><CgPoint name="8">21 11</CgPoint></CgPoints>'
)
# A square whose diagonal runs from 1 to 3, not where Delaunay's rule with levels would put it; face 3 is invisible.
SURFACE = (
    '<Surfaces><Surface name="Yard"><Definition surfType="TIN"><Pnts>\n'
    '<P id="1">0 0 10</P><P id="2">0 4 11</P>\n<P id="3">4 4 14</P><P id="4">4 0 11</P><P id="9">50 50 1</P></Pnts>\n'
    '<Faces><F>1 2 3</F><F>1 3 4</F><F i="1">2 3 9</F></Faces></Definition></Surface></Surfaces>'
)


def read(body: str, units: str = UNITS) -> object:
    """Read a file with a body."""
    return read_text(f"{HEAD}{units}{body}</LandXML>").reading


def test_points_are_read_when_there_is_no_surface() -> None:
    """Northing comes first; a point without elevation only marks a place."""
    points = read(POINTS)
    assert isinstance(points, PointList)
    assert points.point == ("7", "8")
    assert points.note == ("TREE", "")
    np.testing.assert_array_equal(points.east, [10.25, 11])
    np.testing.assert_array_equal(points.north, [20.5, 21])
    np.testing.assert_array_equal(points.level, [101.5, np.nan])
    assert points.line[0] == 4


def test_feet_are_metres_when_the_unit_says_so() -> None:
    """US survey feet are 1200/3937 m."""
    points = read(POINTS, '<Units><Imperial linearUnit="USSurveyFoot"/></Units>')
    assert isinstance(points, PointList)
    assert points.east[0] == pytest.approx(10.25 * 1200 / 3937, rel=1e-15)


def test_surface_keeps_its_triangles_when_read() -> None:
    """Visible faces only, and only the points that they use."""
    surface = read(POINTS + SURFACE)
    assert isinstance(surface, SurfaceReading)
    assert surface.point == ("1", "2", "3", "4")
    assert surface.triangles.tolist() == [[0, 1, 2], [0, 2, 3]]


def test_ground_is_the_surface_when_a_site_has_nothing_else(tmp_path: Path) -> None:
    """The level at the middle is that of the given diagonal, 12; the other diagonal would make it 11."""
    (tmp_path / "yard.xml").write_text(f"{HEAD}{UNITS}{SURFACE}</LandXML>", encoding="utf-8")
    text = '[site]\nunits = "m"\n[[readings]]\nfile = "yard.xml"\n[pad]\nsize = ["1 m", "1 m"]\n'
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    survey = load_survey(load_site(tmp_path))
    assert survey.ground.level_at(np.array([[2.0, 2.0]]))[0] == pytest.approx(12.0)
    assert survey.ground.area == pytest.approx(16.0)
    assert survey.sentences[0].startswith("yard.xml read as landxml: surface 'Yard', 4 points, 2 triangles, meter")


BROKEN = [
    (UNITS, "", "neither points nor a triangulated surface"),
    ("", POINTS, "says no linear unit"),
    ('<Units><Metric linearUnit="furlong"/></Units>', POINTS, "furlong"),
    (UNITS, '<CgPoint name="7">20.5 ten 101</CgPoint>', "20.5 ten 101"),
    (UNITS, SURFACE.replace("1 3 4</F>", "1 3 5</F>"), "does not name three points"),
    (UNITS, SURFACE.replace('id="2"', 'id="1"'), "two points have the id '1'"),
    (UNITS, SURFACE.replace("0 0 10<", "0 0<"), "no elevation"),
]


@pytest.mark.parametrize(("units", "body", "message"), BROKEN, ids=[row[2] for row in BROKEN])
def test_broken_landxml_is_refused_when_read(units: str, body: str, message: str) -> None:
    """Each fault is told with its line."""
    with pytest.raises(InputError, match=message) as raised:
        read(body, units)
    assert all(fault.source.line for fault in raised.value.faults)
