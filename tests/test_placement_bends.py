"""Second order of the bounds: folds of the ground that take from a value or give to it while the pad moves."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.earthwork._compile import compiled
from spadework.earthwork.arrays import pad_arrays
from spadework.earthwork.parts import convex_parts
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.placement import GOALS, FinishLimit, Goal, Limits
from spadework.placement.bound_bends import most_taken_off
from spadework.placement.bound_rule import goal_rule
from spadework.placement.boxes import box_bounds, halves
from spadework.placement.clearance import Clearance
from spadework.placement.mesh import bound_mesh
from spadework.placement.objective import Objective
from spadework.readings import FloatArray

WIDE, LONG = 4.0, 3.0
"""The pad: across the folds, and along them. [m]"""
PAD = Pad.rectangle(LONG, WIDE)
L_PAD = Pad(np.array([[-2.0, -2.0], [2.0, -2.0], [2.0, 0.0], [0.0, 0.0], [0.0, 2.0], [-2.0, 2.0]]))
ONE = Goal("one", cut=1.0, fill=1.0)


@compiled
def taken_off(form: FloatArray, a: float, b: float, d: float) -> float:
    """Call what only kernels can call."""
    return most_taken_off(form, a, b, d)


def folded(places: FloatArray, slopes: FloatArray, level: float, turn: float = 0.0) -> Ground:
    """Return ground that is folded at places eastwards [m], `level` high at the first, all turned clockwise [rad]."""
    rises = np.concatenate([[30.0 * slopes[0]], np.diff(places) * slopes[1:-1], [30.0 * slopes[-1]]])
    high = level - rises[0] + np.concatenate([[0.0], np.cumsum(rises)])
    east = np.tile(np.concatenate([[places[0] - 30.0], places, [places[-1] + 30.0]]), 2)
    n = len(high)
    north = np.repeat([-30.0, 30.0], n)
    west = np.arange(n - 1)
    triangles = np.vstack(
        [np.column_stack([west, west + 1, west + n + 1]), np.column_stack([west, west + n + 1, west + n])]
    )
    sine, cosine = np.sin(turn), np.cos(turn)
    east, north = east * cosine + north * sine, north * cosine - east * sine
    return Ground(np.zeros(2), east, north, np.tile(high, 2), triangles.astype(np.int32), "shots")


def objective_of(ground: Ground, pad: Pad, goal: Goal, finish: FinishLimit, keep: float = 1.0) -> Objective:
    """Return the exact objective."""
    limits = Limits(finish=finish)
    return Objective(ground, pad, limits, goal, keep, Clearance.of(pad, limits, ground.outline(), ground.origin))


def second_order(objective: Objective, boxes: FloatArray) -> FloatArray:
    """Return the bound of second order of each box, east and north [m], bearing [rad] and half widths."""
    parts = pad_arrays(convex_parts(objective.pad.outline))
    mesh = bound_mesh(objective.ground, 3 * parts.reach)
    return box_bounds(mesh, parts, np.ascontiguousarray(boxes), goal_rule(objective), 1)[:, 0]


@pytest.mark.parametrize(
    ("folds", "slopes", "least"),
    [
        # Cut all over, 5 m deep: 5 x 12 m³ and the closed form of what the roof takes off or the valley adds.
        ([0.0], [0.1, -0.1], 60.0 - 0.1 * LONG * (WIDE**2 / 4 + 0.3**2)),
        ([0.0], [-0.1, 0.1], 60.0 + 0.1 * LONG * WIDE**2 / 4),
        # A ridge and a valley half a metre on cancel, and the value is linear: 0.3 c - 0.175 m² times the length.
        ([0.0, 0.5], [0.1, -0.1, 0.1], 60.0 + LONG * (-0.3 * 0.3 - 0.175)),
    ],
    ids=["ridge", "valley", "both"],
)
def test_bound_is_the_least_value_across_folds(folds: list[float], slopes: list[float], least: float) -> None:
    """Where the folds stay under the pad the form is the value itself: the bound is the least value of the box."""
    ground = folded(np.array(folds), np.array(slopes), 100.0)
    objective = objective_of(ground, PAD, ONE, FinishLimit("fixed", 95.0))
    there = objective.values(np.array([[0.3, 0.0, 0.0], [-0.3, 0.0, 0.0], [0.0, 0.0, 0.0]])).min()
    bound = second_order(objective, np.array([[0.0, 0.0, 0.0, 0.3, 0.0, 0.0]]))[0]
    assert there == pytest.approx(least, abs=1e-9)
    assert bound == pytest.approx(least, abs=1e-6)


@pytest.mark.parametrize("pad", [PAD, L_PAD], ids=["rectangle", "L"])
@pytest.mark.parametrize(
    "goal", [GOALS["balance"], Goal("w", cut=1.0, fill=3.0), ONE], ids=["balance", "weights", "one"]
)
@pytest.mark.parametrize("finish", [FinishLimit(), FinishLimit("fixed", 100.0)], ids=["free", "fixed"])
def test_no_value_lies_below_where_folds_change_sides(pad: Pad, goal: Goal, finish: FinishLimit) -> None:
    """Sharp folds at the level, and at the rim of the pad, come under other weights while the pad moves."""
    random = np.random.default_rng(8)
    for _ in range(80):
        count = random.integers(2, 5)
        # Some lie close to one another, where the level is, and some where a side of the pad goes.
        places = np.sort(random.choice([-2.0, 0.0, 2.0], count) + random.normal(size=count) * 0.15)
        turn = random.uniform(0, 2 * np.pi)
        slopes = random.uniform(-0.1, 0.1) + random.choice([-0.3, 0.3, -0.1, 0.1], count + 1)
        objective = objective_of(folded(places, slopes, 100.0, turn), pad, goal, finish, 0.9)
        size = 10 ** random.uniform(-2, -0.1, (60, 1))
        half = size * random.choice([0.0, 1.0], (60, 3), p=[0.3, 0.7]) * random.choice([0.3, 1.0], (60, 3))
        # As many with sides along the folds, or nearly so, as in any other way.
        bearing = turn + random.choice([0.0, 0.5, 1.0, 1.5], (60, 1)) * np.pi + random.normal(size=(60, 1)) * 0.05
        bearing[::2] = random.uniform(0, 2 * np.pi, (30, 1))
        boxes = np.hstack([random.normal(size=(60, 2)) * 0.3, bearing, half])
        share = random.uniform(-1, 1, (60, 16, 3))
        share[:, :8] = np.sign(share[:, :8])
        poses = (boxes[:, None, :3] + share * half[:, None]).reshape(-1, 3)
        poses[:, 2] = np.degrees(poses[:, 2])
        values = objective.values(poses).reshape(60, 16).min(axis=1)
        assert (second_order(objective, boxes) <= values + 1e-9 * (1 + np.abs(values))).all()


def test_form_is_least_where_a_fine_grid_finds_it() -> None:
    """The least value of a quadratic form in a box, of every signature, by trying 41 x 41 x 41 places."""
    random = np.random.default_rng(4)
    half = np.array([0.7, 1.3, 0.2])
    places = np.stack(np.meshgrid(*[np.linspace(-1, 1, 41)] * 3, indexing="ij"), axis=-1).reshape(-1, 3) * half
    for _ in range(60):
        matrix = random.normal(size=(3, 3))
        matrix = matrix + matrix.T + np.diag(random.normal(size=3) * 4)
        form = np.array([*np.diag(matrix), matrix[0, 1], matrix[0, 2], matrix[1, 2], 0.0])
        tried = np.einsum("pi,ij,pj->p", places, matrix, places).min()
        found = -taken_off(form, *half)
        assert found <= tried + 1e-12
        # Between two places of the grid a form goes below them by no more than its greatest curvature allows.
        assert found >= tried - 3 * np.abs(matrix).max() * (0.05 * half.max()) ** 2


def test_halves_fill_the_box() -> None:
    """Two halves side by side have the box's corners and half its size."""
    boxes = np.array([[1.0, 2.0, 0.5, 0.8, 0.1, 0.05], [1.0, 2.0, 0.5, 0.1, 0.1, 0.4]])
    made = halves(boxes, 2.0).reshape(2, 2, 6)
    for box, less, more, axis in zip(boxes, made[0], made[1], (0, 2), strict=True):
        assert less[axis] - less[3 + axis] == pytest.approx(box[axis] - box[3 + axis])
        assert more[axis] + more[3 + axis] == pytest.approx(box[axis] + box[3 + axis])
        assert less[axis] + less[3 + axis] == pytest.approx(more[axis] - more[3 + axis])
        others = [i for i in range(3) if i != axis]
        np.testing.assert_array_equal(less[others], box[others])
        np.testing.assert_array_equal(more[[3 + i for i in others]], box[[3 + i for i in others]])
