"""Outlines of pads: an L, a circle, any simple polygon, and how they are marked and set out."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely

from grounds import lattice
from spadework.earthwork import earthwork
from spadework.pad import Pad, Placement
from spadework.pad_rings import middle_of_area, signed_area
from spadework.pad_shapes import CHORD, MOST_CHORDS, centred, chord_error, circle, l_shape
from spadework.readings import FloatArray
from spadework.stakeout import stake_out
from spadework.stakeout.spans import across
from spadework.units import LengthUnit

LENGTH, WIDTH, NOTCH = 6.0, 4.0, (2.5, 1.5)
POLYGON = np.array([[0, 0], [5, 0], [6, 3], [2.5, 2], [0, 4]], dtype=np.float64)


def plane(east: FloatArray, north: FloatArray) -> FloatArray:
    """Ground that rises 1 in 10 to the east and 1 in 20 to the north."""
    return 100.0 + 0.1 * east + 0.05 * north


def clockwise(outline: FloatArray) -> bool:
    """Whether corners ``u, v`` run clockwise as seen from above, ``v`` to the right of ``u``."""
    return not shapely.LinearRing(outline[:, ::-1]).is_ccw


@pytest.mark.parametrize("corner", ["A", "B", "C", "D"])
def test_l_when_a_corner_is_missing(corner: str) -> None:
    """It is the rectangle less the notch, clockwise, its middle at the origin, AB along the bearing."""
    outline = l_shape(LENGTH, WIDTH, corner, NOTCH)
    sign = {"A": (-1, -1), "B": (1, -1), "C": (1, 1), "D": (-1, 1)}[corner]
    whole = shapely.box(-LENGTH / 2, -WIDTH / 2, LENGTH / 2, WIDTH / 2)
    at = np.array(sign) * [LENGTH / 2, WIDTH / 2]
    expected = whole - shapely.box(*np.sort([at, at - np.array(sign) * NOTCH], axis=0).ravel())
    found = shapely.Polygon(outline + shapely.get_coordinates(expected.centroid)[0])
    assert found.symmetric_difference(expected).area == pytest.approx(0.0, abs=1e-12)
    assert np.allclose(shapely.get_coordinates(shapely.Polygon(outline).centroid), 0.0, atol=1e-12)
    assert clockwise(outline)
    ahead = outline[1] - outline[0]
    assert ahead[0] > 0
    assert ahead[1] == pytest.approx(0.0, abs=1e-12)
    assert Pad(outline).sized == "L"


@pytest.mark.parametrize("ring", [POLYGON, POLYGON[::-1]], ids=["one way", "the other way"])
def test_centred_when_drawn_either_way_round(ring: FloatArray) -> None:
    """The corners come out clockwise about their centroid, the first one still first."""
    outline = centred(ring)
    middle = shapely.get_coordinates(shapely.Polygon(ring).centroid)[0]
    assert outline[0] == pytest.approx(ring[0] - middle)
    assert clockwise(outline)
    drawn = shapely.Polygon(outline + middle)
    assert drawn.symmetric_difference(shapely.Polygon(ring)).area == pytest.approx(0.0, abs=1e-12)


def test_middle_of_area_when_compared_with_a_geometry_library() -> None:
    """The centroid and the area are those of the library."""
    assert middle_of_area(POLYGON) == pytest.approx(shapely.get_coordinates(shapely.Polygon(POLYGON).centroid)[0])
    assert signed_area(POLYGON) == pytest.approx(shapely.Polygon(POLYGON).area)


@pytest.mark.parametrize("radius", [0.5, 1.2, 2.0, 3.1])
def test_circle_when_it_is_small_enough(radius: float) -> None:
    """The polygon has the area of the circle, and no point of its rim lies off it by more than is stated."""
    outline = circle(radius)
    assert shapely.Polygon(outline).area == pytest.approx(math.pi * radius**2, rel=1e-12)
    rim = shapely.Polygon(outline).exterior.interpolate(np.linspace(0, 1, 5001), normalized=True)
    off = np.abs(np.hypot(*shapely.get_coordinates(rim).T) - radius).max()
    assert off <= chord_error(radius, len(outline)) + 1e-12
    assert off == pytest.approx(chord_error(radius, len(outline)), rel=1e-2)
    assert off <= CHORD
    assert len(outline) % 4 == 0


def test_circle_when_it_is_large() -> None:
    """It has no more than so many sides, and says how far off they are: 0.14 % of the radius."""
    assert len(circle(12.0)) == MOST_CHORDS
    assert chord_error(12.0, MOST_CHORDS) == pytest.approx(0.0014 * 12.0, rel=0.35)


def test_circle_when_it_lies_on_a_slope() -> None:
    """Cut at the middle level of a slope s under a circle of radius r is 2/3 s r³ (half a wedge of a cylinder)."""
    radius, slope = 3.0, 0.1
    ground = lattice(lambda east, _: 100.0 + slope * east, 8.0, 4.0)
    pad = Pad(circle(radius), radius=radius)
    found = earthwork(ground, pad, Placement(0.3, 0.2, 17.0, 100.0 + slope * 0.3))
    assert found.cut == pytest.approx(2 / 3 * slope * radius**3, rel=1e-4)
    assert found.fill == pytest.approx(2 / 3 * slope * radius**3, rel=1e-4)


def test_marks_of_a_circle() -> None:
    """The quarter points lie on the circle, A ahead, clockwise; corners of the polygon are named after them."""
    pad = Pad(circle(2.0), radius=2.0)
    names, places = pad.marked
    assert names == ("A", "B", "C", "D")
    assert places == pytest.approx(np.array([[2, 0], [0, 2], [-2, 0], [0, -2]]))
    assert len(set(pad.names)) == len(pad.outline)
    for name, place in zip(names, places, strict=True):
        corner = pad.outline[pad.names.index(name)]
        assert np.hypot(*(corner - place)) <= CHORD


def test_shape_when_named() -> None:
    """Each shape is called what it is."""
    assert Pad.rectangle(3, 2).sized == "rectangle"
    assert Pad(circle(2.0), radius=2.0).sized == "circle"
    assert Pad(centred(POLYGON)).sized == "polygon"
    slanting = Placement(0, 0, 30, 0).to_site(Pad.rectangle(3, 2).outline)
    assert not Pad(centred(slanting)).is_rectangle, "its sides do not run along the bearing"


class TestRoundPadSetOut:
    """The stakes of a round pad."""

    PAD = Pad(circle(2.0), radius=2.0)
    AT = Placement(1.0, 2.0, 40.0, 100.2)

    def test_stakes(self) -> None:
        """Middle and quarter points; radii, chords and diameters by Pythagoras; offset stakes on the radii."""
        references = [("H1", -6.0, -6.0), ("H2", 6.0, -6.0)]
        found = stake_out(lattice(plane, 10.0, 5.0), self.PAD, self.AT, references, offset=0.6)
        assert [stake.name for stake in found.stakes] == ["M", "A", "B", "C", "D"]
        assert [(s.start + s.end, round(s.length, 9)) for s in found.sides] == [
            (name, 2.0) for name in ("MA", "MB", "MC", "MD")
        ]
        lengths = {s.start + s.end: s.length for s in found.diagonals}
        assert lengths == pytest.approx(
            {"AB": 2 * math.sqrt(2), "AC": 4, "AD": 2 * math.sqrt(2), "BC": 2 * math.sqrt(2), "BD": 4}
            | {"CD": 2 * math.sqrt(2)}
        )
        for stake in found.offsets:
            assert math.hypot(stake.east - 1.0, stake.north - 2.0) == pytest.approx(2.6)
        assert found.stakes[1].east == pytest.approx(1.0 + 2.0 * math.sin(math.radians(40)))
        for stake in found.all_stakes:
            assert stake.ground_level == pytest.approx(plane(np.array(stake.east), np.array(stake.north)))

    def test_points_on_the_arc(self) -> None:
        """They stand on the circle, a chord from the quarter point before them, and their error grows with the turn."""
        references = [("H1", -6.0, -6.0), ("H2", 6.0, -6.0)]
        found = stake_out(lattice(plane, 10.0, 5.0), self.PAD, self.AT, references, side_spacing=0.9)
        at = {stake.name: np.array([stake.east, stake.north]) for stake in found.all_stakes}
        assert [stake.name for stake in found.side_points][:3] == ["AB1", "AB2", "AB3"]
        for stake in found.side_points:
            assert np.hypot(*(at[stake.name] - at["M"])) == pytest.approx(2.0)
            assert np.hypot(*(at[stake.name] - at[stake.of])) == pytest.approx(stake.away)
        for one, other in pairwise([s.expected_error for s in found.side_points[:3]]):
            assert 0 < one < other


class TestTiesAcross:
    """What is taped across an outline."""

    def test_ties_when_the_outline_is_an_l(self) -> None:
        """Three inner ties cut it into four triangles, and the longest diagonal comes on top."""
        outline = l_shape(LENGTH, WIDTH, "C", NOTCH)
        pairs = across(outline)
        assert len(pairs) == 4
        shape = shapely.Polygon(outline).buffer(1e-9)
        inner = [pair for pair in pairs if shape.contains(shapely.LineString(outline[list(pair)]))]
        assert len(inner) >= 3

    @pytest.mark.parametrize("seed", range(6))
    def test_ties_fix_every_corner(self, seed: int) -> None:
        """Sides and ties leave the outline no way to move: the lengths' derivatives have full rank, 2 n - 3."""
        rng = np.random.default_rng(seed)
        turn = np.sort(rng.uniform(0, 2 * math.pi, 9))
        ring = rng.uniform(2.0, 5.0, 9)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
        pairs = [*((i, (i + 1) % 9) for i in range(9)), *across(ring)]
        moves = np.zeros((len(pairs), 18))
        for row, (i, j) in enumerate(pairs):
            along = (ring[j] - ring[i]) / np.hypot(*(ring[j] - ring[i]))
            moves[row, 2 * i : 2 * i + 2], moves[row, 2 * j : 2 * j + 2] = -along, along
        assert len(pairs) in {2 * 9 - 3, 2 * 9 - 3 + 1}
        assert np.linalg.matrix_rank(moves, tol=1e-9) == 2 * 9 - 3


def test_depth_grid_of_an_l_says_nothing_where_the_pad_is_not() -> None:
    """Points of the frame that lie in the notch have no level."""
    pad = Pad(l_shape(LENGTH, WIDTH, "C", NOTCH))
    grid = stake_out(lattice(plane, 10.0, 5.0), pad, Placement(0, 0, 0, 100), grid=0.5, unit=LengthUnit.METRE).grid
    points = np.stack([grid.east.ravel(), grid.north.ravel()], axis=-1)
    on = shapely.contains_xy(shapely.Polygon(Placement(0, 0, 0, 0).corners(pad)).buffer(1e-9), *points.T)
    assert (np.isfinite(grid.ground_level).ravel() == on).all()
