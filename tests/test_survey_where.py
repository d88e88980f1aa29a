"""What a site file says of where the pad may lie, with the places that it names, as the limits of a search."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from spadework.errors import InputError
from spadework.placement import Limits
from spadework.placement.land import land_shape
from spadework.site import load_site
from spadework.survey import load_survey, plan_inputs

HEAD = """\
[site]
units = "m"

[[readings]]
file = "shots.csv"
"""
WEDGE = "[pad]\ncorners = [[0, 0], [4, 0], [0, 3]]\n"
PAD = '[pad]\nsize = ["4 m", "3 m"]\n'
SHOTS = """\
point,east,north,level,note
F1,0,0,100.0,
F2,30,0,100.5,
F3,30,20,101.0,
F4,0,20,100.6,
DOOR,12,0,100.9,step
TAP,2,10,100.3,
P1,14,9,100.5,TREE
P2,17,12,100.6,TREE oak
P3,20,3,100.4,PIPE 1
P4,22,9,100.6,PIPE 1
P5,22,17,100.8,PIPE 2
"""


def limits(folder: Path, text: str, *, pad: str = PAD) -> Limits:
    """The limits of a site file whose pad and other tables are given."""
    (folder / "shots.csv").write_text(SHOTS, encoding="utf-8")
    (folder / "site.toml").write_text(HEAD + pad + text, encoding="utf-8")
    site = load_site(folder)
    return plan_inputs(site, load_survey(site)).limits


def fault(folder: Path, text: str, *, pad: str = PAD) -> str:
    """The one message about a site file."""
    with pytest.raises(InputError) as caught:
        limits(folder, text, pad=pad)
    assert len(caught.value.faults) == 1, str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    ("text", "lowest", "highest"),
    [
        ('{ point = "DOOR", most-below = "150 mm" }', 100.75, None),
        ('{ point = "DOOR", least-below = "50 mm" }', None, 100.85),
        ('{ point = "door", most-below = 0.15, least-below = 0.05 }', 100.75, 100.85),
        ('{ point = "DOOR", least-above = 0.1, most-above = 0.2 }', 101.0, 101.1),
        ('{ lowest = "100.2 m", highest = 100.4 }', 100.2, 100.4),
        ('{ point = "DOOR", most-below = 0.5, highest = 100.6 }', 100.4, 100.6),
    ],
)
def test_finish_when_it_has_bounds(tmp_path: Path, text: str, lowest: float | None, highest: float | None) -> None:
    """Heights count from the level of the shot, and all bounds are kept."""
    finish = limits(tmp_path, f"finish = {text}\n").finish
    assert finish.kind == "free"
    assert finish.lowest == (None if lowest is None else pytest.approx(lowest))
    assert finish.highest == (None if highest is None else pytest.approx(highest))


def test_finish_when_it_is_just_so_far_below_a_point(tmp_path: Path) -> None:
    """It is fixed there."""
    finish = limits(tmp_path, 'finish = { point = "DOOR", below = "150 mm" }\n').finish
    assert (finish.kind, finish.level) == ("fixed", pytest.approx(100.75))


@pytest.mark.parametrize(("word", "kind"), [("flush", "flush"), ("flush-lowest", "flush-low"), ("free", "free")])
def test_finish_when_it_is_a_word(tmp_path: Path, word: str, kind: str) -> None:
    """Flush is with the highest ground along the edge, or with the lowest."""
    assert limits(tmp_path, f'finish = "{word}"\n').finish.kind == kind


@pytest.mark.parametrize(
    ("text", "pad", "spans"),
    [
        ("bearing = { from = 80, to = 110 }", PAD, [(80, 30)]),
        ("bearing = { from = 350, to = 10 }", PAD, [(350, 20)]),
        ("bearing = [{ from = 80, to = 110 }, { from = 170, to = 200 }]", PAD, [(80, 30), (170, 30)]),
        ('bearing = { parallel-to = ["F1", "F2"] }', PAD, [(90, 0)]),
        ('bearing = { square-to = ["F1", "F2"] }', PAD, [(180, 0)]),
        (
            'bearing = { parallel-to = ["F1", "F2"] }',
            "[pad]\ncorners = [[0, 0], [4, 0], [0, 3]]\n",
            [(90, 0), (270, 0)],
        ),
        ("bearing = { from = 0, to = 360 }", PAD, [(0, 360)]),
        ("faces = { bearing = 180, within = 30 }", PAD, [(150, 60)]),
        ('faces = { bearing = 180, within = 30 }\nfront = "AB"', PAD, [(240, 60)]),
        ("faces = { bearing = 180, within = 30 }\nbearing = { from = 100, to = 170 }", PAD, [(150, 20)]),
        ('faces = { bearing = 80, within = 30 }\nbearing = { parallel-to = ["F1", "F2"] }', PAD, [(90, 0)]),
        ("", "[pad]\ndiameter = 3\n", [(0, 0)]),
    ],
    ids=[
        "range",
        "over north",
        "two",
        "parallel",
        "square",
        "no symmetry",
        "all",
        "faces",
        "left",
        "both",
        "line",
        "round",
    ],
)
def test_bearing(tmp_path: Path, text: str, pad: str, spans: list[tuple[float, float]]) -> None:
    """First bearing and width of what is allowed; AB is the left side, and looks a quarter turn to the left."""
    found = limits(tmp_path, text + "\n", pad=pad).bearing.spans(360.0)
    assert [(start % 360, width) for start, width in found] == [pytest.approx(span) for span in spans]


def test_front_faces_a_shot(tmp_path: Path) -> None:
    """The shot's place, the angle and the side come through; 45 degrees where none is given."""
    (facing,) = limits(tmp_path, 'faces = { towards = "DOOR" }\nfront = "CD"\n').facings
    assert (facing.east, facing.north, facing.within, facing.side) == (12.0, 0.0, 45.0, "CD")


def test_position_of_a_corner(tmp_path: Path) -> None:
    """A corner stands on a shot."""
    position = limits(tmp_path, 'position = { corner = "b", at = "P1" }\n').position
    assert position is not None
    assert (position.east, position.north, position.corner) == (14.0, 9.0, "B")


def test_reach(tmp_path: Path) -> None:
    """Named after its point where it has no name; the nearest point of the pad counts where nothing is said."""
    text = '[[reach]]\nfrom = "TAP"\ndistance = "12 m"\n[[reach]]\nname = "gate"\nfrom = [1, 2]\n'
    text += 'distance = 3\nto = "middle"\n'
    one, other = limits(tmp_path, text).reaches
    assert (one.name, one.east, one.north, one.distance, one.to) == ("TAP", 2.0, 10.0, 12.0, "nearest")
    assert (other.name, other.to, other.distance) == ("gate", "middle", 3.0)


def test_goal_limits(tmp_path: Path) -> None:
    """Slope and soil."""
    found = limits(tmp_path, '[goal]\nlimits = { ground-slope = "12 %", carted = "0.5 m3", bought = "1 m3" }\n')
    assert (found.ground_slope, found.carted, found.bought) == pytest.approx((0.12, 0.5, 1.0))
    assert limits(tmp_path, "").bought is None


def test_boundary_in_two_pieces_with_a_hole(tmp_path: Path) -> None:
    """What either covers, less the hole; a notice says so."""
    text = (
        '[[boundary]]\npoints = ["F1", "F2", "F3", "F4"]\nsetback = 1\nholes = [["P1", "P2", [20, 12]]]\n'
        '[[boundary]]\ncorners = [[30, 5], [36, 5], [36, 15], [30, 15]]\nsetback = "1 m"\n'
    )
    found = limits(tmp_path, text)
    hole = shapely.Polygon([[14, 9], [17, 12], [20, 12]])
    expected = shapely.box(0, 0, 30, 20).union(shapely.box(30, 5, 36, 15)).difference(hole)
    assert land_shape(found.boundary).symmetric_difference(expected).area == pytest.approx(0.0, abs=1e-9)
    assert found.setback == 1.0


def test_boundary_file_with_two_areas_that_say_so(tmp_path: Path) -> None:
    """Every area with the role is land."""
    rings = [[[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]], [[12, 0], [20, 0], [20, 9], [12, 9], [12, 0]]]
    features = [
        {"type": "Feature", "properties": {"role": "boundary"}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
        for ring in rings
    ]
    (tmp_path / "plot.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}), "utf-8")
    found = limits(tmp_path, '[boundary]\nfile = "plot.geojson"\ncrs = "site"\n')
    assert land_shape(found.boundary).area == pytest.approx(81 + 72)


def test_keep_outs_by_line_and_by_code(tmp_path: Path) -> None:
    """A line through shots, circles about the shots of a code, lines told apart by the number after it."""
    text = (
        '[[keep-out]]\nname = "drain"\npoints = ["F1", "P1"]\nline = true\nclearance = "1 m"\n'
        '[[keep-out]]\nname = "tree"\ncode = "tree"\nradius = "2 m"\n'
        '[[keep-out]]\nname = "pipe"\ncode = "PIPE"\nline = true\nclearance = 0.5\n'
    )
    found = {keep_out.name: keep_out for keep_out in limits(tmp_path, text).keep_outs}
    assert set(found) == {"drain", "tree P1", "tree P2", "pipe 1", "pipe 2"}
    assert found["drain"].open
    assert found["drain"].outline == pytest.approx(np.array([[0, 0], [14, 9]]))
    assert (found["tree P2"].is_circle, found["tree P2"].clearance) == (True, 2.0)
    assert found["pipe 1"].open
    assert (found["pipe 2"].is_circle, found["pipe 2"].clearance) == (True, 0.5)


def test_keep_outs_from_a_file_of_lines_and_points(tmp_path: Path) -> None:
    """Lines of a file, and its points by the clearance."""
    line = {"type": "LineString", "coordinates": [[1, 1], [5, 1], [5, 4]]}
    crs = {"type": "name", "properties": {"name": "site"}}
    feature = {"type": "Feature", "properties": {"name": "fence"}, "geometry": line}
    document = {"type": "FeatureCollection", "crs": crs, "features": [feature]}
    (tmp_path / "fence.geojson").write_text(json.dumps(document), "utf-8")
    (found,) = limits(tmp_path, '[[keep-out]]\nfile = "fence.geojson"\nline = true\nclearance = 1\n').keep_outs
    assert (found.name, found.open, found.clearance) == ("fence", True, 1.0)
    assert found.outline == pytest.approx(np.array([[1, 1], [5, 1], [5, 4]]))
    point = {"type": "Feature", "properties": {"name": "post"}, "geometry": {"type": "Point", "coordinates": [3, 4]}}
    (tmp_path / "posts.geojson").write_text(json.dumps({**document, "features": [point]}), "utf-8")
    (post,) = limits(tmp_path, '[[keep-out]]\nfile = "posts.geojson"\nclearance = 2\n').keep_outs
    assert (post.name, post.is_circle, post.clearance) == ("post", True, 2.0)
    assert "has no clearance" in fault(tmp_path, '[[keep-out]]\nfile = "posts.geojson"\n')


FAULTS = {
    "point without level": ('finish = { point = "NOBODY", below = 0.1 }\n', "no point called 'NOBODY' has a level"),
    "heights without point": ('finish = { most-below = "150 mm" }\n', "finish has most-below but no point"),
    "point without heights": ('finish = { point = "DOOR" }\n', "a point but no height above or below"),
    "two levels": ('finish = { point = "DOOR", below = 0.1, most-below = 0.2 }\n', "finish has below and most-below"),
    "bounds that cross": ("finish = { lowest = 101, highest = 100 }\n", "100.000 m at the highest"),
    "half a range": ("bearing = { from = 80 }\n", "bearing has from but no to"),
    "line and range": ('bearing = { parallel-to = ["F1", "F2"], from = 3, to = 4 }\n', "parallel-to and from and to"),
    "line in a list": ('bearing = [{ parallel-to = ["F1", "F2"] }]\n', "parallel-to in a list"),
    "bearing out of reach": ("bearing = { from = 80, to = 400 }\n", "to = 400 is out of reach"),
    "line of one point": ('bearing = { parallel-to = ["F1", "F1"] }\n', "stand at one place"),
    "front that is none": ('front = "AC"\n', "no side 'AC'"),
    "faces nothing": ("faces = { within = 20 }\n", "neither towards nor bearing"),
    "faces and bearing apart": (
        "faces = { bearing = 0, within = 10 }\nbearing = 90\n",
        "no bearing that [pad] bearing",
    ),
    "corner that is none": ('position = { corner = "F", at = "P1" }\n', "the pad has no corner 'F'"),
    "drawn without drawing": ('position = "drawn"\n', "has no drawing"),
    "reach without distance": ('[[reach]]\nfrom = "TAP"\n', "[reach 1] has no distance"),
    "reach misspelt": ('[[reach]]\nfrom = "TIP"\ndistance = 3\n', "no shot is called 'TIP'"),
    "reach to what": ('[[reach]]\nfrom = "TAP"\ndistance = 3\nto = "nearst"\n', 'Did you mean "nearest"?'),
    "code of nothing": ('[[keep-out]]\ncode = "OAK"\nradius = 2\n', "no shot has the code 'OAK'"),
    "code without radius": ('[[keep-out]]\ncode = "TREE"\n', "has a code but no radius"),
    "line of a circle": ('[[keep-out]]\nat = "P1"\nradius = 1\nline = true\n', "a line through one point"),
    "line of one": ('[[keep-out]]\npoints = ["P1"]\nline = true\n', "is too short"),
    "hole of two": ('[boundary]\npoints = ["F1", "F2", "F3"]\nholes = [["P1", "P2"]]\n', "is too short"),
    "two setbacks": (
        '[[boundary]]\npoints = ["F1", "F2", "F3"]\nsetback = 1\n[[boundary]]\npoints = ["F1", "F3", "F4"]\n',
        "different setbacks",
    ),
}


@pytest.mark.parametrize(("text", "wanted"), FAULTS.values(), ids=FAULTS)
def test_fault_says_what_is_wrong(tmp_path: Path, text: str, wanted: str) -> None:
    """One fault, with what is wrong and, where it is known, the line."""
    assert wanted in fault(tmp_path, text)


def test_drawn_pad_stays_where_it_is_drawn(tmp_path: Path) -> None:
    """Middle and bearing are those of the drawing."""
    ring = [[10, 4], [14, 4], [14, 7], [10, 7], [10, 4]]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (tmp_path / "pad.geojson").write_text(json.dumps(feature), "utf-8")
    found = limits(tmp_path, "", pad='[pad]\nfile = "pad.geojson"\ncrs = "site"\nposition = "drawn"\n')
    assert found.position is not None
    assert (found.position.east, found.position.north) == pytest.approx((12.0, 5.5))
    assert found.bearing.fixed == 0.0
    assert math.isclose(found.setback, 0.0)
