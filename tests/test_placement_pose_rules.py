"""Points to reach, points to face and bearings, against a geometry library and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from spadework.errors import InputError, Source
from spadework.pad import Pad, Placement
from spadework.pad_shapes import circle, l_shape
from spadework.placement.clearance import Clearance
from spadework.placement.limits import BearingLimit, FacingLimit, KeepOut, Limits, ReachLimit
from spadework.placement.pose_kernel import pose_kernel
from spadework.placement.pose_numpy import poses_with_numpy
from spadework.placement.pose_rules import PoseRules, side_of
from spadework.readings import FloatArray

WIDE = (np.array([[-90.0, -90.0], [90.0, -90.0], [90.0, 90.0], [-90.0, 90.0]]),)
PADS = {
    "rectangle": Pad.rectangle(5.0, 3.0),
    "L": Pad(l_shape(5.0, 4.0, "C", (2.0, 1.5))),
    "circle": Pad(circle(1.8), radius=1.8),
}
REACHES = tuple(ReachLimit(to, 4.0, -2.0, 9.0, to) for to in ("nearest", "middle", "farthest"))  # type: ignore[arg-type]


def random_poses(seed: int, count: int = 200) -> FloatArray:
    """Poses about the origin."""
    rng = np.random.default_rng(seed)
    return np.column_stack([rng.uniform(-15, 15, (count, 2)), rng.uniform(0, 360, count)])


def outline(pad: Pad, pose: FloatArray) -> shapely.Geometry:
    """The pad at a pose, a round one as a circle drawn finely."""
    if pad.radius:
        return shapely.Point(pose[:2]).buffer(pad.radius, quad_segs=4000)
    return shapely.Polygon(Placement(*pose, 0.0).corners(pad))


@pytest.mark.parametrize("pad", PADS.values(), ids=PADS)
def test_reach_is_the_distance_of_a_geometry_library(pad: Pad) -> None:
    """To the nearest point, the middle and the farthest point; 0 to the nearest from inside."""
    poses = random_poses(1)
    poses[:20, :2] = np.array([4.0, -2.0]) + random_poses(2, 20)[:, :2] / 20
    found = PoseRules.of(pad, Limits(reaches=REACHES)).measured(poses)
    point = shapely.Point(4.0, -2.0)
    for pose, row in zip(poses, found, strict=True):
        shape = outline(pad, pose)
        expected = [point.distance(shape), point.distance(shapely.Point(pose[:2])), point.hausdorff_distance(shape)]
        assert row == pytest.approx(expected, abs=1e-6)
    assert (found[:, 0] == 0).sum() >= 15


@pytest.mark.parametrize("pad", [PADS["rectangle"], PADS["L"]], ids=["rectangle", "L"])
def test_facing_is_the_angle_between_the_way_out_and_the_way_to_the_point(pad: Pad) -> None:
    """The way out of a side is square to it and leads off the pad."""
    poses = random_poses(3)
    for row, side in enumerate(zip(pad.names, np.roll(pad.names, -1), strict=True)):
        rules = PoseRules.of(pad, Limits(facings=(FacingLimit("gate", 3.0, 8.0, 40.0, "".join(side)),)))
        for pose, found in zip(poses, rules.measured(poses)[:, 0], strict=True):
            corners = Placement(*pose, 0.0).corners(pad)
            start, end = corners[row], corners[(row + 1) % len(corners)]
            middle, normal = (start + end) / 2, np.array([-(end - start)[1], (end - start)[0]])
            if shapely.Polygon(corners).contains(shapely.Point(middle + 1e-6 * normal)):
                normal = -normal
            to = np.array([3.0, 8.0]) - middle
            angle = math.degrees(math.acos(normal @ to / np.hypot(*normal) / np.hypot(*to)))
            assert found == pytest.approx(angle, abs=1e-5)


def test_side_of_a_round_pad_is_a_quarter_point() -> None:
    """It looks the way of its quarter point."""
    assert side_of(PADS["circle"], "b", Source()) == pytest.approx([0.0, 1.8, 0.0, 1.0])


def test_side_that_the_pad_does_not_have() -> None:
    """The fault names the sides that there are."""
    with pytest.raises(InputError, match=r"no side 'AC'.*AB, BC, CD, DA"):
        side_of(PADS["rectangle"], "AC", Source("site.toml", 4))


@pytest.mark.parametrize("pad", PADS.values(), ids=PADS)
def test_kernels_when_compared(pad: Pad) -> None:
    """The compiled kernel and its stand-in measure the same."""
    facing = FacingLimit("gate", 3.0, 8.0, 40.0, "A" if pad.radius else "BC")
    rules = PoseRules.of(pad, Limits(reaches=REACHES, facings=(facing,)))
    poses = random_poses(4)
    poses[:, 2] = np.radians(poses[:, 2])
    results = []
    for kernel in (pose_kernel, poses_with_numpy):
        result = np.zeros((len(poses), 4))
        kernel(poses, rules.points, rules.kind, rules.sides, rules.corners, rules.radius, result)
        results.append(result)
    assert np.allclose(results[0], results[1], rtol=0, atol=1e-9)


def test_allowed_when_there_are_rules() -> None:
    """A pose is allowed exactly where every rule is kept; distances give what is measured, below zero."""
    pad = PADS["rectangle"]
    limits = Limits(
        reaches=REACHES[:1],
        facings=(FacingLimit("gate", 3.0, 8.0, 60.0),),
        bearing=BearingLimit(ranges=((300.0, 120.0),)),
    )
    poses = random_poses(5, 800)
    layout = Clearance.of(pad, limits, WIDE, np.zeros(2))
    measured = PoseRules.of(pad, limits).measured(poses)
    turned = (poses[:, 2] >= 300) | (poses[:, 2] <= 60)
    expected = (measured[:, 0] <= 9.0) & (measured[:, 1] <= 60.0) & turned
    assert np.array_equal(layout.allowed(poses), expected)
    assert 10 < expected.sum() < 700
    assert layout.distances(poses)[:, layout.rings :] == pytest.approx(-measured)


@pytest.mark.parametrize("seed", range(4))
def test_boxes_that_may_hold_a_pose_are_kept(seed: int) -> None:
    """No box is dropped that holds a pose which keeps every rule."""
    rng = np.random.default_rng(seed)
    pad = PADS["L"]
    reaches = tuple(ReachLimit(r.name, r.east, r.north, 8.0, r.to) for r in REACHES)
    rules = PoseRules.of(pad, Limits(reaches=reaches[seed % 3 :][:1], facings=(FacingLimit("gate", 3.0, 8.0, 30.0),)))
    centres = random_poses(seed + 10, 400)
    half = np.column_stack([rng.uniform(0, 3, (400, 2)), rng.uniform(0, 40, 400)])
    reach = float(np.hypot(*pad.outline.T).max())
    shift = np.hypot(half[:, 0], half[:, 1]) + np.radians(half[:, 2]) * reach
    kept = rules.may_hold(centres, shift, half[:, 2])
    holds = np.zeros(400, dtype=bool)
    for _ in range(60):
        poses = centres + rng.uniform(-1, 1, (400, 3)) * half
        holds |= (rules.measured(poses) <= rules.most).all(axis=1)
    assert holds.sum() > 10
    assert not (holds & ~kept).any()
    assert (~kept).sum() > 20, "something is dropped"


class TestBearings:
    """Ranges of bearings."""

    @pytest.mark.parametrize(
        ("limit", "bearing", "expected", "off"),
        [
            (BearingLimit(), 77.0, 77.0, 0.0),
            (BearingLimit(30.0), 77.0, 30.0, 47.0),
            (BearingLimit(350.0), 20.0, 350.0, 30.0),
            (BearingLimit(ranges=((350.0, 20.0),)), 5.0, 5.0, 0.0),
            (BearingLimit(ranges=((350.0, 20.0),)), 15.0, 10.0, 5.0),
            (BearingLimit(ranges=((350.0, 20.0),)), 340.0, 350.0, 10.0),
            (BearingLimit(ranges=((80.0, 30.0), (200.0, 0.0))), 160.0, 200.0, 40.0),
            (BearingLimit(ranges=((80.0, 30.0), (200.0, 0.0))), 140.0, 110.0, 30.0),
        ],
    )
    def test_nearest_bearing_allowed(self, limit: BearingLimit, bearing: float, expected: float, off: float) -> None:
        """Across north, at the ends and between two ranges."""
        assert float(limit.held(np.array([bearing]))[0]) % 360 == pytest.approx(expected)
        assert float(limit.off(np.array([bearing]))[0]) == pytest.approx(off)

    def test_what_is_searched(self) -> None:
        """A free bearing as far as the pad repeats itself, a fixed one alone, ranges as they are."""
        assert BearingLimit().spans(180.0) == ((0.0, 180.0),)
        assert BearingLimit(30.0).spans(180.0) == ((30.0, 0.0),)
        assert BearingLimit(ranges=((5.0, 7.0),)).spans(180.0) == ((5.0, 7.0),)
        assert [limit.turns for limit in (BearingLimit(), BearingLimit(1.0), BearingLimit(ranges=((1.0, 0.0),)))] == [
            True,
            False,
            False,
        ]


def test_line_when_the_pad_is_near() -> None:
    """A line is kept clear of along its length and round its ends, and nothing lies inside it."""
    places = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 8.0], [2.0, 6.0]])
    layout = Clearance.of(PADS["L"], Limits(keep_outs=(KeepOut.line("drain", places, 0.7),)), WIDE, np.zeros(2))
    poses = random_poses(6, 600) + np.array([4.0, 3.0, 0.0])
    line = shapely.LineString(places)
    distances = np.array([line.distance(outline(PADS["L"], pose)) for pose in poses])
    sure = np.abs(distances - 0.7) > 1e-6
    assert np.array_equal(layout.allowed(poses)[sure], (distances >= 0.7)[sure])
    assert 50 < (distances >= 0.7).sum() < 550
    inside = np.array([[6.0, 3.0, 0.0]])
    small = Clearance.of(Pad.rectangle(1.0, 1.0), Limits(keep_outs=(KeepOut.line("drain", places),)), WIDE, np.zeros(2))
    assert small.allowed(inside)[0], "a bent line encloses nothing"


def test_area_when_it_has_a_hole() -> None:
    """The pad may stand in what an area leaves open, with its distance kept there as well."""
    outer = np.array([[-20.0, -20.0], [20.0, -20.0], [20.0, 20.0], [-20.0, 20.0]])
    court = KeepOut("houses", outer, 1.0, holes=(outer / 4,))
    layout = Clearance.of(Pad.rectangle(4.0, 3.0), Limits(keep_outs=(court,)), WIDE, np.zeros(2))
    poses = random_poses(7, 900) * np.array([0.4, 0.4, 1.0])
    shape = shapely.Polygon(outer, [outer / 4])
    rooms = []
    for pose in poses:
        pad = outline(Pad.rectangle(4.0, 3.0), pose)
        rooms.append(-1.0 if shape.intersects(pad) else shape.distance(pad) - 1.0)
    sure = np.abs(rooms) > 1e-6
    assert np.array_equal(layout.allowed(poses)[sure], (np.array(rooms) > 0)[sure])
    assert 20 < (np.array(rooms) > 0).sum() < 880
