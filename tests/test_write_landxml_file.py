"""Surfaces and points as LandXML: in the order that its schema asks for, and with the volumes of the plan."""

from __future__ import annotations

from dataclasses import replace
from xml.etree.ElementTree import Element

import numpy as np
import pytest
import shapely
from defusedxml.ElementTree import fromstring

from naive import shapely_cut_fill
from sample_plan import HOSTILE, sample_plan
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.plan import Plan
from spadework.readings import FloatArray
from spadework.stakeout import stake_out
from spadework.units import LengthUnit
from spadework.write import landxml_file
from spadework.write.landxml_file import landxml_bytes

NS = "{http://www.landxml.org/schema/LandXML-1.2}"
# What the LandXML 1.2 schema asks of the elements used here: required attributes, then children in their order. Written
# down from memory of the published schema, of which no copy could be had.
RULES: dict[str, tuple[set[str], tuple[str, ...]]] = {
    "LandXML": (
        {"version", "date", "time"},
        ("Units", "CoordinateSystem", "Project", "Application", "CgPoints", "Surfaces"),
    ),
    "Units": (set(), ("Metric",)),
    "Metric": ({"areaUnit", "linearUnit", "volumeUnit", "temperatureUnit", "pressureUnit"}, ()),
    "CoordinateSystem": (set(), ()),
    "Project": ({"name"}, ()),
    "Application": ({"name"}, ()),
    "CgPoints": (set(), ("CgPoint",)),
    "CgPoint": (set(), ()),
    "Surfaces": (set(), ("Surface",)),
    "Surface": ({"name"}, ("Definition",)),
    "Definition": ({"surfType"}, ("Pnts", "Faces")),
    "Pnts": (set(), ("P",)),
    "P": ({"id"}, ()),
    "Faces": (set(), ("F",)),
    "F": (set(), ()),
}
VALUES = {
    "linearUnit": {"meter"},
    "areaUnit": {"squareMeter"},
    "volumeUnit": {"cubicMeter"},
    "temperatureUnit": {"celsius", "kelvin"},
    "pressureUnit": {"HPA", "milliBars", "mmHG", "millimeterHG"},
    "surfType": {"TIN", "grid"},
}


def check_structure(element: Element) -> None:
    """Hold an element and all below it to the rules."""
    name = element.tag.removeprefix(NS)
    required, order = RULES[name]
    assert required <= set(element.attrib), name
    for attribute, values in VALUES.items():
        assert element.get(attribute) is None or element.get(attribute) in values
    places = [order.index(child.tag.removeprefix(NS)) for child in element]
    assert places == sorted(places), name
    for child in element:
        check_structure(child)


def surface(tree: Element, name: str) -> tuple[FloatArray, np.ndarray]:
    """Points ``east, north, level`` and faces of a surface, read by this test alone."""
    found = next(s for s in tree.iter(f"{NS}Surface") if s.get("name") == name)
    points = {p.get("id"): [float(word) for word in (p.text or "").split()] for p in found.iter(f"{NS}P")}
    row = {number: place for place, number in enumerate(points)}
    north_east = np.array(list(points.values()))
    faces = np.array([[row[number] for number in (f.text or "").split()] for f in found.iter(f"{NS}F")])
    return north_east[:, [1, 0, 2]], faces


def ground_of(points: FloatArray, faces: np.ndarray) -> Ground:
    """A ground of what was read."""
    return Ground(np.zeros(2), *points.T, faces.astype(np.int32), "read back")


@pytest.mark.parametrize("crs", ["", "EPSG:25832"])
def test_landxml_keeps_the_order_and_attributes_of_its_schema(crs: str) -> None:
    """Every element in its place with what it must have; a coordinate system only where the site has one."""
    tree = fromstring(landxml_bytes(sample_plan(crs=crs)))
    check_structure(tree)
    systems = [system.get("epsgCode") for system in tree.iter(f"{NS}CoordinateSystem")]
    assert systems == (["25832"] if crs else [])


def test_landxml_takes_hostile_words_as_words() -> None:
    """A name with tags and with characters that XML cannot hold."""
    tree = fromstring(landxml_bytes(sample_plan(name=HOSTILE + "\x01")))
    check_structure(tree)
    project = tree.find(f"{NS}Project")
    assert project is not None
    assert project.get("name") == HOSTILE + "\ufffd"


def test_landxml_surfaces_have_the_volumes_of_the_plan() -> None:
    """Cut and fill between the surfaces as read back, by a general geometry library, are the plan's."""
    plan = sample_plan()
    tree = fromstring(landxml_bytes(plan))
    ground = ground_of(*surface(tree, "ground"))
    formation, faces = surface(tree, "formation")
    assert set(formation[:, 2]) == {99.92}
    stripped = replace(ground, level=ground.level - plan.pad.strip)
    volumes = np.array([shapely_cut_fill(stripped, formation[face][:, :2], 99.92) for face in faces]).sum(axis=0)
    assert volumes == pytest.approx((plan.earthwork.cut, plan.earthwork.fill), abs=1e-4)
    assert plan.earthwork.cut > 1


def test_landxml_states_the_areas_of_its_surfaces() -> None:
    """The plan area of the formation is the pad's; its slopes are none, so the true area is the same."""
    tree = fromstring(landxml_bytes(sample_plan()))
    for name in ("formation", "finish"):
        found = next(s for s in tree.iter(f"{NS}Surface") if s.get("name") == name).find(f"{NS}Definition")
        assert found is not None
        assert float(found.get("area2DSurf", "")) == pytest.approx(5.4 * 3.6, abs=1e-5)
        assert found.get("area3DSurf") == found.get("area2DSurf")


def test_landxml_faces_run_counter_clockwise() -> None:
    """Seen from above, on every surface."""
    tree = fromstring(landxml_bytes(sample_plan()))
    for name in ("ground", "formation", "finish"):
        points, faces = surface(tree, name)
        a, b, c = (points[faces[:, i], :2] for i in range(3))
        turn = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
        assert (turn > 0).all(), name


def test_landxml_triangulates_a_bent_pad_without_leaving_it() -> None:
    """An L of 3 m² is three square metres in triangles, none of them in the notch."""
    plan = bent_plan()
    points, faces = surface(fromstring(landxml_bytes(plan)), "formation")
    a, b, c = (points[faces[:, i], :2] for i in range(3))
    areas = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    assert areas.sum() == pytest.approx(3.0, abs=1e-5)
    assert (areas > 0).all()
    notch = plan.search.best.placement.to_site(np.array([[1.5, 1.5]]))[0]
    triangles = [shapely.Polygon([a[i], b[i], c[i]]) for i in range(len(faces))]
    assert not any(triangle.covers(shapely.Point(notch)) for triangle in triangles)


def bent_plan() -> Plan:
    """The sample plan with an L-shaped pad of 3 m²."""
    plan = sample_plan()
    pad = Pad(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [1.0, 1.0], [1.0, 2.0], [0.0, 2.0]]))
    return replace(plan, pad=pad, stakeout=stake_out(plan.ground, pad, plan.search.best.placement))


def test_landxml_points_are_the_stakes() -> None:
    """North, east and formation of each, in the order in which they are set, marked as on the stake."""
    plan = sample_plan(LengthUnit.FOOT)
    points = list(fromstring(landxml_bytes(plan)).iter(f"{NS}CgPoint"))
    assert [point.get("name") for point in points] == list(plan.stakeout.order)
    for point, stake in zip(points, plan.stakeout.ordered(), strict=True):
        expected = (stake.north, stake.east, 99.92)
        assert [float(word) for word in (point.text or "").split()] == pytest.approx(expected, abs=1e-6)


def test_landxml_of_a_large_ground_keeps_the_part_about_the_pad(monkeypatch: pytest.MonkeyPatch) -> None:
    """With room for few triangles the pad still has its volumes, and the file says that it is a part."""
    monkeypatch.setattr(landxml_file, "MOST_TRIANGLES", 10)
    monkeypatch.setattr(landxml_file, "ABOUT_PAD", 0.5)
    plan = sample_plan()
    tree = fromstring(landxml_bytes(plan))
    points, faces = surface(tree, "ground")
    assert len(faces) < plan.ground.triangle_count
    stripped = ground_of(points - [0, 0, plan.pad.strip], faces)
    found = shapely_cut_fill(stripped, plan.search.best.placement.corners(plan.pad), 99.92)
    assert found == pytest.approx((plan.earthwork.cut, plan.earthwork.fill), abs=1e-4)
    said = next(s for s in tree.iter(f"{NS}Surface") if s.get("name") == "ground").get("desc", "")
    assert "the part about the pad" in said
