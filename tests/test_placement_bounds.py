"""Lower bounds over boxes of placements: never above a value in the box, equal to it at the centre."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from naive_placement import ground_of, naive_pieces, naive_value, random_yard
from spadework.earthwork.arrays import pad_arrays
from spadework.earthwork.parts import convex_parts
from spadework.ground import Ground
from spadework.pad import BuildUp, Layer, Pad
from spadework.placement import GOALS, FinishLimit, Goal, Limits, ProofEffort, find_placement
from spadework.placement.bound_kernel import bound_boxes
from spadework.placement.bound_rule import bare_rule, goal_rule, is_bare
from spadework.placement.boxes import box_bounds
from spadework.placement.clearance import Clearance
from spadework.placement.mesh import bound_mesh
from spadework.placement.objective import Objective
from spadework.readings import FloatArray

PADS = {
    "rectangle": Pad.rectangle(4.5, 3.0, build_up=BuildUp((Layer("stone", 0.25),)), strip=0.05),
    "long": Pad.rectangle(9.0, 1.5),
    "L": Pad(np.array([[-2.0, -2.0], [2.0, -2.0], [2.0, 0.0], [0.0, 0.0], [0.0, 2.0], [-2.0, 2.0]])),
    "hexagon": Pad(2.0 * np.column_stack([np.cos(np.arange(6) * np.pi / 3), -np.sin(np.arange(6) * np.pi / 3)])),
}
GOALS_TRIED = {
    "digging": (GOALS["digging"], 0.9, 0.0),
    "digging, some bought": (GOALS["digging"], 0.8, 0.3),
    "balance": (GOALS["balance"], 0.9, 0.0),
    "balance of swelling soil": (GOALS["balance"], 1.1, 0.0),
    "weights": (Goal("w", cut=1.0, fill=3.0), 0.9, 0.0),
    "mixed": (Goal("m", cut=1.0, fill=0.5, over=0.3, short=2.0), 0.85, 0.0),
    "edge": (GOALS["wall"], 0.9, 0.0),
    "edge and soil": (Goal("e", cut=1.0, fill=0.5, over=0.5, short=4.0, wall=3.0), 0.85, 0.0),
    "edge, none bought": (Goal("n", cut=1.0, over=1.0, short=2.0, wall=0.5, buys=False), 1.2, 0.3),
}
SOIL_TRIED = {name: each for name, each in GOALS_TRIED.items() if name != "edge"}
FINISHES = {
    "free": FinishLimit(),
    "fixed": FinishLimit("fixed", 99.9),
    "flush": FinishLimit("flush"),
    "flush-low": FinishLimit("flush-low"),
    "window": FinishLimit(lowest=99.8, highest=99.95),
}
LEVEL_LIMITS: dict[str, dict[str, float]] = {
    "none": {},
    "edge": {"exposed_edge": 0.2},
    "cut": {"cut_depth": 0.15},
    "fill": {"fill_depth": 0.2},
    "cut and edge": {"cut_depth": 0.25, "exposed_edge": 0.25},
    "carted": {"carted": 0.2},
    "carted and fill": {"carted": 0.1, "fill_depth": 0.2},
}


def objective_of(ground: Ground, pad: Pad, limits: Limits, goal: Goal, keep: float, reserve: float = 0.0) -> Objective:
    """Return the exact objective."""
    clearance = Clearance.of(pad, limits, ground.outline(), ground.origin)
    return Objective(ground, pad, limits, goal, keep, clearance, reserve)


def random_boxes(random: np.random.Generator, count: int, size: tuple[float, float]) -> FloatArray:
    """Return boxes of all sizes from a centimetre to metres, in site axes and radians."""
    centre = np.column_stack([random.uniform(0, size, (count, 2)), random.uniform(0, 2 * np.pi, count)])
    half = 10 ** random.uniform(-2, 0.5, (count, 3)) * np.array([1.0, 1.0, 0.3])
    half[random.uniform(size=half.shape) < 0.1] = 0.0
    return np.hstack([centre, half])


def bounds_and_least(
    objective: Objective,
    boxes: FloatArray,
    poses: int,
    random: np.random.Generator,
    ways: int = 7,
    rule: FloatArray | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Return the bound of each box and the least value among random poses in it, half of them at its corners."""
    ground = objective.ground
    local = boxes.copy()
    local[:, :2] -= ground.origin
    parts = pad_arrays(convex_parts(objective.pad.outline))
    rule = goal_rule(objective) if rule is None else rule
    bounds = box_bounds(bound_mesh(ground, 3 * parts.reach), parts, local, rule, ways)
    share = random.uniform(-1, 1, (len(boxes), poses, 3))
    share[:, : poses // 2] = np.sign(share[:, : poses // 2])
    share[:, -1] = 0.0
    every = (boxes[:, None, :3] + share * boxes[:, None, 3:]).reshape(-1, 3)
    every[:, 2] = np.degrees(every[:, 2])
    values = objective.values(every).reshape(len(boxes), poses)
    return bounds, values.min(axis=1)


@pytest.mark.parametrize("finish", [f for f in FINISHES.values() if not f.kind.startswith("flush")])
@pytest.mark.parametrize(("goal", "keep", "bought"), SOIL_TRIED.values(), ids=SOIL_TRIED.keys())
def test_the_plain_bound_is_the_other_one_where_no_point_counts(
    goal: Goal, keep: float, bought: float, finish: FinishLimit
) -> None:
    """Without an edge or a depth to count, both kernels give the same numbers to the last digit."""
    random = np.random.default_rng(5)
    bare_goal = replace(goal, wall=0.0)
    for turn, pad in enumerate(PADS.values()):
        ground = random_yard(turn % 4, 12 * (turn % 4 + 1))
        objective = objective_of(ground, pad, Limits(finish=finish, bought=bought or None), bare_goal, keep, 0.0)
        boxes = random_boxes(random, 40, (24.0, 20.0))
        boxes[:, :2] -= ground.origin
        parts, rule = pad_arrays(convex_parts(pad.outline)), goal_rule(objective)
        assert is_bare(rule)
        mesh, other = bound_mesh(ground, 3 * parts.reach), np.empty((40, 3))
        for ways in (1, 2, 4, 7):
            bound_boxes(mesh, parts, boxes, rule, ways, np.inf, other)
            np.testing.assert_array_equal(box_bounds(mesh, parts, boxes, rule, ways), other)


@pytest.mark.parametrize(("goal", "keep", "bought"), SOIL_TRIED.values(), ids=SOIL_TRIED.keys())
def test_leaving_out_limits_is_never_above_a_value(goal: Goal, keep: float, bought: float) -> None:
    """The bound without the limits that are held at single points is a bound with them as well."""
    random = np.random.default_rng(7)
    met = 0
    for turn, level_limits in enumerate(LEVEL_LIMITS.values()):
        for pad in PADS.values():
            ground = random_yard(turn % 4, 12 * (turn % 4 + 1))
            limits = Limits(bought=bought or None, **level_limits)
            objective = objective_of(ground, pad, limits, replace(goal, wall=0.0), keep, 0.0)
            boxes = random_boxes(random, 24, (24.0, 20.0))
            boxes[::2, 3:] *= 0.1
            bounds, least = bounds_and_least(objective, boxes, 24, random, rule=bare_rule(goal_rule(objective)))
            seen = np.isfinite(least)
            met += seen.sum()
            assert (bounds[seen, 0] <= least[seen] + 1e-9 * (1 + least[seen])).all()
    assert met > 100


@pytest.mark.parametrize("finish", FINISHES.values(), ids=FINISHES.keys())
@pytest.mark.parametrize(("goal", "keep", "bought"), GOALS_TRIED.values(), ids=GOALS_TRIED.keys())
def test_bound_never_above_a_value(goal: Goal, keep: float, bought: float, finish: FinishLimit) -> None:
    """Over random yards, pads, limits, boxes and poses no value lies under the bound of its box, each way by itself."""
    random = np.random.default_rng(11)
    met, turn = 0, 0
    for level_limits in LEVEL_LIMITS.values():
        for pad in PADS.values():
            turn += 1
            ground = random_yard(turn % 4, 12 * (turn % 4 + 1))
            limits = Limits(finish=finish, bought=bought or None, **level_limits)
            objective = objective_of(ground, pad, limits, goal, keep, 0.05 * (turn % 3))
            boxes = random_boxes(random, 24, (24.0, 20.0))
            boxes[::2, 3:] *= 0.1
            for ways in (1, 2, 4, 7):
                bounds, least = bounds_and_least(objective, boxes, 24, random, ways)
                seen = np.isfinite(least)
                met += seen.sum()
                assert (bounds[seen, 0] <= least[seen] + 1e-9 * (1 + least[seen])).all()
    # Flush with the highest ground, a goal that buys no soil has hardly a placement that is allowed.
    assert met > (10 if finish.kind == "flush" else 100)


@pytest.mark.parametrize("pad", PADS.values(), ids=PADS.keys())
@pytest.mark.parametrize(("goal", "keep"), [(goal, keep) for goal, keep, _ in list(GOALS_TRIED.values())[:6]])
@pytest.mark.parametrize("reserve", [0.0, 0.4], ids=["own soil", "a trench"])
def test_bound_is_the_value_when_the_box_is_one_pose(pad: Pad, goal: Goal, keep: float, reserve: float) -> None:
    """With no width the bound is the value at the centre, to rounding."""
    random = np.random.default_rng(5)
    boxes = random_boxes(random, 40, (24.0, 20.0))
    boxes[:, 3:] = 0.0
    objective = objective_of(random_yard(2), pad, Limits(), goal, keep, reserve)
    bounds, value = bounds_and_least(objective, boxes, 2, random)
    seen = np.isfinite(value)
    assert seen.sum() > 10
    # The level for weights is found to 1e-7 of the area only, which lowers the bound, never lifts it.
    assert bounds[seen, 0] == pytest.approx(value[seen], rel=1e-5, abs=1e-9)


@pytest.mark.parametrize("pad", PADS.values(), ids=PADS.keys())
@pytest.mark.parametrize(
    ("goal", "keep"),
    [
        (Goal("a", cut=1.0, fill=3.0), 0.9),
        (Goal("b", cut=1.0, fill=2.0, over=0.2), 1.0),
        (Goal("c", cut=1.0, fill=2.0, over=0.2, short=0.5, wall=1.0), 1.1),
    ],
    ids=["shrinks", "stays", "swells"],
)
def test_bound_of_one_pose_knows_the_limit_on_soil_carted(pad: Pad, goal: Goal, keep: float) -> None:
    """With no width the bound is the value at the centre also where the limit on soil carted away sets the level."""
    random = np.random.default_rng(5)
    boxes = random_boxes(random, 40, (24.0, 20.0))
    boxes[:, 3:] = 0.0
    # A heap of soil that is there already is more than may be carted: part of it must go under the pad.
    free, held = (objective_of(random_yard(2), pad, Limits(carted=most), goal, keep, 0.4) for most in (None, 0.1))
    bounds, value = bounds_and_least(held, boxes, 2, random)
    _, without = bounds_and_least(free, boxes, 2, random)
    seen = np.isfinite(value)
    assert (value[seen] > without[seen] + 1e-3).sum() > 5
    assert bounds[seen, 0] == pytest.approx(value[seen], rel=1e-5, abs=1e-6)


def test_bound_closes_in_as_the_square_when_the_box_shrinks() -> None:
    """Halving a small box about a smooth minimum takes the gap down to about a quarter: second order, not first."""
    place = np.arange(-12.0, 12.1, 1.0)
    points = np.stack(np.meshgrid(place, place, indexing="ij"), axis=-1).reshape(-1, 2)
    ground = ground_of(points, 100 + 0.01 * (points**2).sum(axis=1))
    objective = objective_of(ground, PADS["rectangle"], Limits(), GOALS["balance"], 1.0)
    gaps = []
    for half in (0.2, 0.1, 0.05, 0.025):
        box = np.array([[0.0, 0.0, 0.0, half, half, half / 4]])
        bounds, _ = bounds_and_least(objective, box, 2, np.random.default_rng(1))
        gaps.append(bounds[0, 1] - bounds[0, 0])
    ratios = np.array(gaps[:-1]) / np.array(gaps[1:])
    assert (ratios > 3.0).all()


def test_bound_holds_when_a_geometry_library_works_out_the_values() -> None:
    """The values under the bound may come from another implementation: shapely clips, the level is searched."""
    random = np.random.default_rng(3)
    ground, pad, goal = random_yard(5, 25), PADS["rectangle"], GOALS["balance"]
    reserve = 0.35
    objective = objective_of(ground, pad, Limits(), goal, 0.9, reserve)
    boxes = random_boxes(random, 40, (18.0, 14.0))
    boxes[:, :2] += 3.0
    boxes[:, 3:] *= 0.3
    bounds, _ = bounds_and_least(objective, boxes, 2, random)
    for box, bound in zip(boxes, bounds[:, 0], strict=True):
        pose = box[:3] + random.uniform(-1, 1, 3) * box[3:]
        pose[2] = np.degrees(pose[2])
        assert bound <= naive_value(ground, pad, pose, goal, 0.9, reserve)[0] + 1e-9


@pytest.mark.parametrize("seed", [1, 2])
def test_ground_carried_on_keeps_the_ground(seed: int) -> None:
    """Triangles are added only outside: their areas fill the frame, and the old ones stay first and unchanged."""
    ground = random_yard(seed, 30)
    mesh = bound_mesh(ground, 5.0)
    assert (mesh.triangles[: ground.triangle_count] == ground.triangles).all()
    assert mesh.height[: len(ground.level)] == pytest.approx(ground.level - ground.datum)
    corners = np.column_stack([mesh.east, mesh.north])
    faces = [shapely.Polygon(corners[face]) for face in mesh.triangles]
    whole = shapely.union_all(faces)
    assert sum(face.area for face in faces) == pytest.approx(whole.area)
    assert whole.area == pytest.approx(whole.convex_hull.area)


def test_ground_with_a_bay_and_a_hole_is_filled() -> None:
    """Bays and holes are filled and the ground is surrounded: no gap, no overlap."""
    place = np.arange(0.0, 9.0)
    points = np.stack(np.meshgrid(place, place, indexing="ij"), axis=-1).reshape(-1, 2)
    east, north = points.T
    square = 9 * np.arange(8)[:, None] + np.arange(8)
    first = np.array(
        [s for s in square.ravel() if not (3 <= s // 9 <= 4 and 3 <= s % 9 <= 4) and not s // 9 >= 6 > s % 9]
    )
    triangles = np.concatenate(
        [np.column_stack([first, first + 9, first + 10]), np.column_stack([first, first + 10, first + 1])]
    )
    used = np.unique(triangles)
    number = np.searchsorted(used, triangles)
    ground = Ground(np.zeros(2), east[used], north[used], east[used] * 0.1, number.astype(np.int32), "raster")
    mesh = bound_mesh(ground, 4.0)
    corners = np.column_stack([mesh.east, mesh.north])
    faces = [shapely.Polygon(corners[face]) for face in mesh.triangles]
    assert sum(face.area for face in faces) == pytest.approx(16.0**2)
    assert shapely.union_all(faces).area == pytest.approx(16.0**2)


def test_bends_are_the_jumps_of_slope() -> None:
    """A roof of two planes bends down across its ridge by the sum of the slopes, and nowhere else."""
    points = np.array([[-5.0, -5.0], [0.0, -5.5], [5.0, -5.0], [5.0, 5.0], [0.0, 5.5], [-5.0, 5.0]])
    ground = ground_of(points, 100 - 0.1 * np.abs(points[:, 0]))
    mesh = bound_mesh(ground, 1.0)
    inside = slice(0, ground.triangle_count)
    ends = np.stack([mesh.triangles[inside], np.roll(mesh.triangles[inside], -1, axis=1)], axis=-1)
    on_ridge = (np.abs(mesh.east[ends] + ground.origin[0]) < 1e-9).all(axis=-1)
    rim = set(map(tuple, np.sort([[0, 1], [1, 2], [2, 3], [3, 4], [4, 5], [5, 0]]).tolist()))
    inner = np.array([[tuple(sorted(edge)) not in rim for edge in face] for face in ends.tolist()])
    assert mesh.bend[inside][on_ridge] == pytest.approx(-0.2)
    assert mesh.mine[inside][on_ridge].sum() == on_ridge.sum() / 2
    assert mesh.bend[inside][inner & ~on_ridge] == pytest.approx(0.0, abs=1e-12)
    assert len(naive_pieces(ground, PADS["rectangle"], np.zeros(3))) > 1


def test_no_bound_when_the_rim_touches_itself() -> None:
    """Two squares that meet in one corner have a rim that cannot be carried on in one way: no bound, and no crash."""
    square = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 6.0], [0.0, 6.0]])
    corners = np.vstack([square, square[1:] + 6.0])
    triangles = np.array([[0, 1, 2], [0, 2, 3], [2, 4, 5], [2, 5, 6]], dtype=np.int32)
    ground = Ground(np.zeros(2), *corners.T, 0.05 * corners[:, 0], triangles, "triangulated shots")
    result = find_placement(ground, Pad.rectangle(2.0, 1.5), Limits(), GOALS["balance"], 0.9, effort=ProofEffort())
    assert result.proof is None or result.proof.lower_bound <= result.best.value
    assert result.best.value == pytest.approx(3.0 * 0.05 * 1.5 / 4, rel=1e-2)
