"""Frames of other shapes than rectangles: their timbers tile the ring inside the outline, course by course."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from spadework.build import BuildOptions, BuildPlan, build_plan
from spadework.build.corners import corner_angles, saw_angle, taken_off
from spadework.build.edge_soil import frame_soil
from spadework.build.lumber import StockLength
from spadework.build.stone import inside_area
from spadework.earthwork import earthwork, edge_profile, soil_account
from spadework.factors import soil_factors
from spadework.ground import Ground
from spadework.pad import BuildUp, Edge, Layer, Pad, Placement
from spadework.pad_shapes import centred, circle, l_shape
from spadework.units import LengthUnit
from timber_yard import plane

METRE = LengthUnit.METRE
LAYERS = BuildUp((Layer("clean-stone-20", 0.1),))
TURN = np.arange(6) * np.pi / 3
SHAPES = {
    "L": l_shape(6.0, 4.0, "C", (2.0, 1.5)),
    "U": centred(np.array([[0, 0], [6, 0], [6, 4], [4, 4], [4, 2], [2, 2], [2, 4], [0, 4.0]])),
    "house": centred(np.array([[-2.0, -2.0], [2.0, -2.0], [2.0, 1.0], [0.0, 2.0], [-2.0, 2.0]])),
    "hexagon": centred(2.0 * np.column_stack([np.cos(TURN), np.sin(TURN)])),
    "arrow": centred(np.array([[-2.0, -2.0], [2.5, 0.0], [-2.0, 2.0], [-1.0, 0.0]])),
}


def built(outline: np.ndarray, ground: Ground, finish: float, stock: float = 20.0) -> tuple[BuildPlan, Pad, Placement]:
    """What is built on a ground, from timbers so long that nothing is joined unless told otherwise."""
    pad, placement = Pad(outline, LAYERS, 0.05, Edge("timber", "100 x 150")), Placement(0.0, 0.0, 90.0, finish)
    work = earthwork(ground, pad, placement)
    options = BuildOptions(BuildOptions.usual(METRE).edge, (StockLength(stock),), 0.003)
    profiles = edge_profile(ground, pad, placement)
    account = soil_account(work, soil_factors("loam"))
    return build_plan(pad, finish, profiles, work, account, options=options, unit=METRE), pad, placement


def flat(level: float = 10.0) -> Ground:
    """Level ground."""
    return plane(level, 0.0, 0.0, 4.0, 4.0)


def ring(pad: Pad, width: float) -> shapely.Geometry:
    """The strip of some width inside an outline, by a geometry library."""
    whole = shapely.Polygon(pad.outline)
    return shapely.difference(whole, whole.buffer(-width, join_style="mitre", mitre_limit=20.0))


@pytest.mark.parametrize("outline", SHAPES.values(), ids=SHAPES.keys())
def test_angles_inside_a_polygon(outline: np.ndarray) -> None:
    """They sum to (m - 2) 180°, and above 180° only where a library's hull leaves the corner out."""
    angles = corner_angles(outline)
    assert angles.sum() == pytest.approx((len(outline) - 2) * 180.0)
    hull = shapely.Polygon(outline).convex_hull.exterior
    outside = np.array([hull.distance(shapely.Point(corner)) < 1e-9 for corner in outline])
    assert (outside == (angles < 180.0)).all()


@pytest.mark.parametrize("outline", SHAPES.values(), ids=SHAPES.keys())
def test_stone_lies_inside_the_timber(outline: np.ndarray) -> None:
    """The area inside is that of the outline drawn in by the timber, with sharp corners, by a geometry library."""
    made, pad, _ = built(outline, flat(), 10.04)
    assert made.edge is not None
    inside = shapely.Polygon(outline).buffer(-0.1, join_style="mitre", mitre_limit=20.0)
    assert inside_area(pad, made.edge) == pytest.approx(inside.area, rel=1e-9)
    # The foot of the frame is below the base, so that no stone lies under it.
    assert made.layers[0].compacted == pytest.approx(inside.area * 0.1, rel=1e-9)


@pytest.mark.parametrize("outline", SHAPES.values(), ids=SHAPES.keys())
def test_timbers_tile_the_ring_in_every_course(outline: np.ndarray) -> None:
    """Laid where it is said and sawn as it is said, the timbers fill the ring, nothing else, and nothing twice."""
    made, pad, _ = built(outline, flat(), 10.10)
    edge = made.edge
    assert edge is not None
    assert {side.courses for side in edge.sides} == {2}
    for course in (1, 2):
        laid = []
        for number, side in enumerate(edge.sides):
            (piece,) = [one for one in edge.pieces if one.side == side.name and one.course == course]
            start = pad.outline[number]
            along = (pad.outline[(number + 1) % len(pad.outline)] - start) / side.length
            inward = np.array([-along[1], along[0]])
            # The saw takes a triangle off: inside at a corner that turns outward, outside at one that turns inward.
            cut = [0.1 * math.tan(math.radians(saw)) for saw in (piece.saw_start, piece.saw_end)]
            turned = [angle > 180.0 for angle in side.angles]
            ends = (
                (piece.start + (cut[0] if turned[0] else 0.0), 0.0),
                (piece.end - (cut[1] if turned[1] else 0.0), 0.0),
                (piece.end - (0.0 if turned[1] else cut[1]), 0.1),
                (piece.start + (0.0 if turned[0] else cut[0]), 0.1),
            )
            laid.append(shapely.Polygon([start + at * along + deep * inward for at, deep in ends]))
        whole = shapely.union_all(laid)
        assert sum(one.area for one in laid) == pytest.approx(whole.area, abs=1e-9)
        assert shapely.symmetric_difference(whole, ring(pad, 0.1)).area == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("outline", SHAPES.values(), ids=SHAPES.keys())
def test_trench_is_the_ring_times_its_depth_on_level_ground(outline: np.ndarray) -> None:
    """Dug 0.05 deep over a ring of 0.2, of which the timber fills one of 0.1: by a geometry library."""
    ground = flat()
    made, pad, placement = built(outline, ground, 10.04)
    assert made.edge is not None
    depth = 9.94 - (10.04 - 0.15)
    assert made.edge.trench_volume == pytest.approx(depth * ring(pad, 0.2).area, rel=1e-9)
    options = BuildOptions.usual(METRE).edge
    soil = frame_soil(pad, placement.finish, edge_profile(ground, pad, placement), options, METRE)
    assert soil is not None
    assert soil.trench == pytest.approx(made.edge.trench_volume, rel=1e-12)
    assert soil.packed.sum() == pytest.approx(depth * (ring(pad, 0.2).area - ring(pad, 0.1).area), rel=1e-9)
    assert soil.spared.sum() == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("outline", SHAPES.values(), ids=SHAPES.keys())
def test_frame_keeps_its_embedment_and_its_cutting_list_on_a_slope(outline: np.ndarray) -> None:
    """On a slope every foot is deep enough everywhere, and every piece is in the list once, cut from 4.8 m."""
    made, _, _ = built(outline, plane(10.2, 0.05, 0.06, 4.0, 4.0), 10.1, stock=4.8)
    assert made.edge is not None
    assert made.cutting is not None
    assert min(side.least_embedment() for side in made.edge.sides) >= 0.1 - 1e-9
    cut = sorted(mark for timber in made.cutting.timbers for mark in timber.marks)
    assert cut == sorted(piece.mark for piece in made.edge.pieces)
    for side in made.edge.sides:
        assert all(0.0 < bar.distance < side.length for bar in made.edge.bars if bar.side == side.name)


def test_corners_that_are_not_square_are_named_with_their_saw() -> None:
    """A regular hexagon has corners of 120°, sawn 30° off square, said of each; an L says where it turns inward."""
    made, _, _ = built(SHAPES["hexagon"], flat(), 10.04)
    said = [notice for notice in made.notices if "120.0°" in notice and "30.0° off square" in notice]
    assert len(said) == 6
    (step,) = [step for step in made.steps if step.title == "Lay the frame"]
    assert "A 30.0°" in step.text
    made, _, _ = built(SHAPES["L"], flat(), 10.04)
    assert sum("turns inward at corner" in notice for notice in made.notices) == 1


@pytest.mark.parametrize(
    ("angle", "off", "saw"),
    [(90.0, 0.1, 0.0), (270.0, -0.1, 0.0), (60.0, 0.1 * math.sqrt(3), 60.0), (120.0, 0.1 / math.sqrt(3), 30.0)],
)
def test_what_a_corner_takes_off(angle: float, off: float, saw: float) -> None:
    """W cot(angle / 2) and |90° - angle / 2|, at angles whose tangents are roots."""
    assert taken_off(angle, 0.1) == pytest.approx(off, rel=1e-12)
    assert saw_angle(angle) == pytest.approx(saw, abs=1e-12)


@pytest.mark.parametrize(
    ("pad", "words"),
    [
        (Pad(circle(2.0), LAYERS, 0.05, Edge("timber", "100 x 150"), radius=2.0), "the pad is round"),
        (Pad(centred(np.array([[0, 0], [4, 0], [4, 1.0]])), LAYERS, 0.05, Edge("timber", "100 x 150")), "too sharp"),
        (
            Pad(
                centred(np.array([[0, 0], [4, 0], [4, 3], [3.8, 3], [3.8, 3.2], [0, 3.2]])),
                LAYERS,
                0.05,
                Edge("timber", "100 x 150"),
            ),
            "too short for a timber",
        ),
    ],
    ids=["round", "sharp", "short"],
)
def test_frame_is_refused_when_it_cannot_be_sawn(pad: Pad, words: str) -> None:
    """It is said why, with what to do, and nothing is drawn up."""
    ground, placement = flat(), Placement(0.0, 0.0, 90.0, 10.04)
    work = earthwork(ground, pad, placement)
    made = build_plan(
        pad,
        10.04,
        edge_profile(ground, pad, placement),
        work,
        soil_account(work, soil_factors("loam")),
        options=BuildOptions.usual(METRE),
        unit=METRE,
    )
    assert made.edge is None
    (notice,) = [notice for notice in made.notices if words in notice]
    assert "Give it" in notice
