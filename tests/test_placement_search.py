"""The search: against closed forms, an exhaustive twin, and a general optimiser with the same objective."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import differential_evolution

from naive_placement import ground_of, naive_cut_fill, naive_pieces, naive_search, naive_value, random_yard
from spadework.ground import Ground
from spadework.pad import BuildUp, Layer, Pad, Placement
from spadework.placement import (
    GOALS,
    BearingLimit,
    FinishLimit,
    Goal,
    KeepOut,
    Limits,
    PositionLimit,
    SearchResult,
    find_placement,
)
from spadework.placement.alternatives import apart, far_enough
from spadework.placement.clearance import Clearance
from spadework.placement.objective import Objective
from spadework.readings import FloatArray

DIGGING, BALANCE = GOALS["digging"], GOALS["balance"]
KEEP = 0.9
PAD = Pad.rectangle(4.5, 3.0, build_up=BuildUp((Layer("clean-stone-20", 0.1),)), strip=0.05)
YARD = np.array([[0.5, 0.0], [23.0, 1.0], [24.0, 19.0], [1.0, 20.0]])
POND = np.array([[14.0, 3.0], [19.0, 4.0], [18.0, 9.0], [13.0, 8.0]])
LIMITS = Limits(
    boundary=(YARD,),
    setback=1.0,
    keep_outs=(KeepOut.polygon("pond", POND, 0.6), KeepOut.circle("pear tree", (7.0, 13.0), 2.0)),
)


def square_ground(level_of: object, half: float = 20.0, step: float = 40.0) -> Ground:
    """Return a square about the origin, shots at every ``step``, with levels by a function of east and north."""
    axis = np.arange(-half, half + step / 2, step)
    points = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1).reshape(-1, 2)
    return ground_of(points, level_of(points[:, 0], points[:, 1]))  # type: ignore[operator]


def objective_of(ground: Ground, pad: Pad, limits: Limits, goal: Goal, keep: float = KEEP) -> Objective:
    """Return the exact objective that the search uses."""
    return Objective(ground, pad, limits, goal, keep, Clearance.of(pad, limits, ground.outline(), ground.origin))


@pytest.mark.parametrize("aspect", [0.0, 37.3, 128.0])
@pytest.mark.parametrize(("goal", "share"), [(DIGGING, 8.0), (BALANCE, 4.0)])
def test_plane_when_the_pad_is_long(goal: Goal, share: float, aspect: float) -> None:
    """With l / w >= sqrt(1.5) the long side lies on the contour; cut = fill = A g w / 8 at the mean level."""
    slope, pad = 0.06, Pad.rectangle(6.0, 4.0)
    fall = np.radians(aspect)
    ground = square_ground(lambda e, n: 50 - slope * (e * np.sin(fall) + n * np.cos(fall)))
    best = find_placement(ground, pad, Limits(), goal, 1.0).best
    assert best.value == pytest.approx(24.0 * slope * 4.0 / share, rel=1e-8)
    assert (best.placement.bearing - aspect - 90.0 + 1.0) % 180.0 == pytest.approx(1.0, abs=0.01)


def test_plane_when_the_pad_is_square() -> None:
    """A square lies best with its diagonal down the slope: cut + fill = (sqrt 2 / 6) g w A."""
    ground = square_ground(lambda _, n: 50 + 0.05 * n)
    best = find_placement(ground, Pad.rectangle(4.0, 4.0), Limits(), BALANCE, 1.0).best
    assert best.value == pytest.approx(np.sqrt(2) / 6 * 0.05 * 4.0 * 16.0, rel=1e-8)
    assert best.placement.bearing == pytest.approx(45.0, abs=0.01)


def test_plane_when_many_are_equal() -> None:
    """Of many equal placements the one in the middle of the boundary is named, and a notice says so."""
    yard = np.array([[-9.0, -6.0], [11.0, -6.0], [11.0, 8.0], [-9.0, 8.0]])
    ground = square_ground(lambda _, n: 50 + 0.05 * n)
    result = find_placement(ground, Pad.rectangle(6.0, 4.0), Limits(boundary=(yard,)), DIGGING, KEEP)
    place = result.best.placement
    assert (place.east, place.north) == pytest.approx((1.0, 1.0), abs=1e-3)
    assert "equal within 1 %" in " ".join(result.notices)


def test_level_ground_when_everything_is_equal() -> None:
    """On level ground nothing is dug: the middle, the smallest bearing, and three other spots that really differ."""
    result = find_placement(square_ground(lambda e, _: 0 * e + 80.0), PAD, Limits(), DIGGING, KEEP)
    assert result.best.value == pytest.approx(0.0, abs=1e-9)
    place = result.best.placement
    assert (place.east, place.north, place.bearing) == pytest.approx((0.0, 0.0, 0.0), abs=1e-6)
    assert place.finish == pytest.approx(80.0 - 0.05 + 0.1, abs=1e-9)
    assert len(result.alternatives) == 3
    assert "the same digging" in result.alternatives[0].what_differs


@pytest.mark.parametrize(("goal", "bought"), [(DIGGING, 0.0), (DIGGING, 0.2), (BALANCE, 0.0)])
def test_level_ground_when_there_is_soil_besides_the_cut(goal: Goal, bought: float) -> None:
    """Level ground at g, R of soil besides the cut: it lies g - s + (k R + bought) / A high, and nothing is cut.

    Soil is bought only where the goal keeps a limit on it.
    """
    ground, reserve = square_ground(lambda e, _: 0 * e + 80.0), 0.4
    result = find_placement(ground, PAD, Limits(bought=bought), goal, KEEP, reserve=reserve)
    best = result.best
    filled = KEEP * reserve + bought
    assert best.formation == pytest.approx(80.0 - 0.05 + filled / (4.5 * 3.0), abs=1e-9)
    assert (best.cut, best.fill, best.short) == pytest.approx((0.0, filled, bought), abs=1e-9)
    assert best.over == pytest.approx(0.0, abs=1e-9)
    assert result.reserve == reserve


def test_plane_when_there_is_soil_besides_the_cut() -> None:
    """Long side on the contour, k = 1: the made-up wedge is w / 2 + R / (l m w) wide, the cut one what is left."""
    slope, reserve, pad = 0.06, 0.7, Pad.rectangle(6.0, 4.0)
    ground = square_ground(lambda _, n: 50 + slope * n)
    limits = Limits(position=PositionLimit(1.0, 2.0), bearing=BearingLimit(90.0))
    best = find_placement(ground, pad, limits, DIGGING, 1.0, reserve=reserve).best
    wide = 4.0 / 2 + reserve / (6.0 * slope * 4.0)
    assert best.fill == pytest.approx(6.0 * slope * wide**2 / 2, rel=1e-9)
    assert best.cut == pytest.approx(6.0 * slope * (4.0 - wide) ** 2 / 2, rel=1e-9)
    assert best.cut + reserve == pytest.approx(best.fill, rel=1e-9)
    assert best.formation == pytest.approx(50 + slope * 2.0 - 4.0 / 2 * slope + slope * wide, rel=1e-12)


def test_ridge_when_the_pad_may_lie_anywhere() -> None:
    """Two planes falling from a ridge: the pad sits astride it, cut = fill = A s w / 16 at the mean level."""
    slope, east, north = 0.08, np.array([-20.0, 0.0, 20.0]), np.array([-20.0, 20.0])
    points = np.array([[e, n] for e in east for n in north])
    ground = ground_of(points, 60 - slope * np.abs(points[:, 0]))
    best = find_placement(ground, Pad.rectangle(6.0, 3.0), Limits(), DIGGING, 1.0).best
    assert best.cut == pytest.approx(18.0 * slope * 3.0 / 16, rel=1e-6)
    assert best.fill == pytest.approx(best.cut, abs=1e-9)
    assert best.placement.east == pytest.approx(0.0, abs=1e-3)
    assert best.placement.bearing % 180 == pytest.approx(0.0, abs=0.1) or best.placement.bearing > 179.9


def test_bowl_when_the_pad_may_lie_anywhere() -> None:
    """On a bowl c r² the pad lies at the bottom, by symmetry, within a cell of the triangulation."""
    ground = square_ground(lambda e, n: 10 + 0.004 * (e * e + n * n), step=1.0)
    best = find_placement(ground, Pad.rectangle(6.0, 5.0), Limits(), BALANCE, 1.0).best
    assert np.hypot(best.placement.east, best.placement.north) < 1.0


@pytest.mark.parametrize("goal", [DIGGING, BALANCE], ids=lambda goal: goal.name)
def test_objective_when_worked_out_slowly(goal: Goal) -> None:
    """At random poses the value is that of shapely's pieces at the level that golden section finds."""
    ground = random_yard(3, shots=25)
    rng = np.random.default_rng(1)
    poses = np.column_stack([rng.uniform(4, 20, 12), rng.uniform(4, 16, 12), rng.uniform(0, 360, 12)])
    outcome = objective_of(ground, PAD, Limits(), goal).evaluate(poses)
    for row, pose in enumerate(poses):
        value, level = naive_value(ground, PAD, pose, goal, KEEP)
        assert outcome.value[row] == pytest.approx(value, rel=1e-6)
        assert outcome.formation[row] == pytest.approx(level, abs=1e-6)
        cut, fill = naive_cut_fill(naive_pieces(ground, PAD, pose), float(outcome.formation[row]))
        assert (outcome.cut[row], outcome.fill[row]) == pytest.approx((cut, fill), abs=1e-9)


@pytest.mark.parametrize(
    "goal",
    [
        Goal("own", cut=1, fill=1, over=0.2, short=0.3),
        Goal("own", cut=3, fill=1, over=0.0, short=0.5),
        Goal("own", cut=0.2, fill=2, over=0.5, short=4),
        Goal("own", cut=1, fill=1.5, over=1, short=0, buys=False),
    ],
    ids=["near balance", "costly cut", "costly fill", "none bought"],
)
def test_level_when_the_weights_are_any(goal: Goal) -> None:
    """With weights that let soil be over or short, no level of a fine scan is better than the one found."""
    ground = random_yard(4, shots=25)
    poses = np.array([[8.0, 9.0, 20.0], [15.0, 12.0, 140.0], [12.0, 6.0, 75.0]])
    outcome = objective_of(ground, PAD, Limits(), goal).evaluate(poses)
    for row, pose in enumerate(poses):
        pieces = naive_pieces(ground, PAD, pose)
        scan = np.linspace(outcome.ground_low[row] - 0.05, outcome.ground_high[row] - 0.05, 600)
        volumes = np.array([naive_cut_fill(pieces, level) for level in scan])
        values = goal.values(volumes[:, 0], volumes[:, 1], KEEP)
        if not goal.buys:
            values = values[volumes[:, 1] <= KEEP * volumes[:, 0]]
        assert outcome.value[row] <= values.min() + 1e-9
        assert outcome.value[row] >= values.min() - 0.01 * values.min()


def test_search_when_every_pose_is_tried_slowly() -> None:
    """An exhaustive grid with shapely finds nothing better than the search."""
    ground = random_yard(5, shots=12, size=(12.0, 10.0))
    pad = Pad.rectangle(4.0, 2.5, strip=0.05)
    limits = Limits(setback=0.5, keep_outs=(KeepOut.circle("well", (6.0, 5.0), 0.8),))
    limits = Limits(boundary=(ground.outline()[0],), setback=0.5, keep_outs=limits.keep_outs)
    slow, _ = naive_search(ground, pad, limits, DIGGING, KEEP, step=1.5, turn=30.0)
    best = find_placement(ground, pad, limits, DIGGING, KEEP).best
    assert np.isfinite(slow)
    assert best.value <= slow * (1 + 1e-9)
    pose = np.array([best.placement.east, best.placement.north, best.placement.bearing])
    value, _ = naive_value(ground, pad, pose, DIGGING, KEEP)
    assert best.value == pytest.approx(value, rel=1e-6)


def exhaustive(objective: Objective, step: float, turn: float) -> float:
    """Return the least value over a fine grid."""
    west, south, east, north = objective.ground.bounds
    axes = (np.arange(west, east, step), np.arange(south, north, step), np.arange(0.0, 180.0, turn))
    poses = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=-1)
    return float(objective.values(poses).min())


@pytest.mark.parametrize("seed", range(12))
def test_search_when_a_fine_grid_is_tried(seed: int) -> None:
    """On a dozen random yards a grid of 0.25 m by 4 degrees finds nothing better."""
    ground = random_yard(seed)
    goal = (DIGGING, BALANCE)[seed % 2]
    best = find_placement(ground, PAD, LIMITS, goal, KEEP).best
    least = exhaustive(objective_of(ground, PAD, LIMITS, goal), 0.25, 4.0)
    assert best.value <= least * (1 + 1e-9)


@pytest.mark.parametrize("seed", range(20, 26))
def test_search_when_compared_with_differential_evolution(seed: int) -> None:
    """A general optimiser with the same objective is never better by more than 0.1 %."""
    ground = random_yard(seed, shots=120)
    objective = objective_of(ground, PAD, LIMITS, DIGGING)
    best = find_placement(ground, PAD, LIMITS, DIGGING, KEEP).best

    def value(columns: FloatArray) -> FloatArray:
        values = objective.values(np.ascontiguousarray(columns.T))
        return np.where(np.isfinite(values), values, 1e3)

    found = differential_evolution(
        value,
        [(0.0, 24.0), (0.0, 20.0), (0.0, 180.0)],
        popsize=40,
        tol=1e-8,
        seed=seed,
        polish=False,
        vectorized=True,
        updating="deferred",
    )
    assert best.value <= found.fun * 1.001


def test_search_when_run_twice() -> None:
    """The same question gets the same answer, to the last digit."""
    ground = random_yard(8)
    one, other = (find_placement(ground, PAD, LIMITS, DIGGING, KEEP) for _ in range(2))
    assert one == other


def found(seed: int = 2, **limits: object) -> SearchResult:
    """Return the result for a yard with more limits than the usual ones."""
    given = {"boundary": LIMITS.boundary, "setback": LIMITS.setback, "keep_outs": LIMITS.keep_outs, **limits}
    return find_placement(random_yard(seed), PAD, Limits(**given), DIGGING, KEEP)  # type: ignore[arg-type]


def test_result_when_found() -> None:
    """Every spot keeps the limits, soil balances, and the search says what it did without claiming a bound."""
    result = found()
    poses = np.array(
        [[s.placement.east, s.placement.north, s.placement.bearing] for s in (result.best, *result.alternatives)]
    )
    ground = random_yard(2)
    assert Clearance.of(PAD, LIMITS, ground.outline(), ground.origin).allowed(poses).all()
    assert result.best.fill == pytest.approx(KEEP * result.best.cut, rel=1e-9)
    assert result.best.short <= 1e-9
    assert result.proof is None
    assert "placements on a" in result.searched
    assert "no bound" in result.searched
    assert (np.mod(poses[:, 2], 180.0) == poses[:, 2]).all()


def test_alternatives_when_found() -> None:
    """Three, none better than the best, each really different from all the others, each with its trade."""
    result = found()
    spots = (result.best, *result.alternatives)
    poses = np.array([[s.placement.east, s.placement.north, s.placement.bearing] for s in spots])
    shape = objective_of(random_yard(2), PAD, LIMITS, DIGGING).clearance.shape
    assert far_enough(shape) == (pytest.approx(np.hypot(4.5, 3.0) / 2), 30.0)
    assert len(result.alternatives) == 3
    for one in range(4):
        assert apart(np.delete(poses, one, axis=0), poses[one], *far_enough(shape), 180.0).all()
    values = [spot.value for spot in spots]
    assert values == sorted(values)
    assert all("digging" in spot.what_differs for spot in result.alternatives)


def test_bearing_when_fixed() -> None:
    """A fixed bearing is kept as it was given."""
    assert found(bearing=BearingLimit(213.5)).best.placement.bearing == 213.5


def test_position_when_fixed() -> None:
    """A fixed centre is kept; only the bearing is searched."""
    place = found(position=PositionLimit(10.0, 5.0)).best.placement
    assert (place.east, place.north) == (10.0, 5.0)


def test_position_when_a_corner_is_fixed() -> None:
    """The named corner stands where it must."""
    result = found(position=PositionLimit(10.0, 5.0, corner="b"))
    assert result.best.placement.corners(PAD)[1] == pytest.approx([10.0, 5.0], abs=1e-9)


def test_position_when_everything_is_fixed() -> None:
    """With nothing to choose, the one placement is worked out at its best level."""
    result = found(position=PositionLimit(10.0, 5.0), bearing=BearingLimit(90.0))
    value, level = naive_value(random_yard(2), PAD, np.array([10.0, 5.0, 90.0]), DIGGING, KEEP)
    assert result.best.value == pytest.approx(value, rel=1e-6)
    assert result.best.formation == pytest.approx(level, abs=1e-6)
    assert result.alternatives == ()


def test_finish_when_flush() -> None:
    """A flush finish is the highest ground along the edge."""
    ground = random_yard(2)
    result = find_placement(ground, PAD, Limits(finish=FinishLimit("flush")), BALANCE, KEEP)
    corners = result.best.placement.corners(PAD)
    along = np.linspace(0.0, 1.0, 400)[:, None]
    edge = np.vstack([a + along * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)])
    assert result.best.placement.finish == pytest.approx(ground.level_at(edge).max(), abs=2e-3)
    assert result.best.placement.finish >= ground.level_at(edge).max() - 1e-9


def test_exposed_edge_when_limited() -> None:
    """A limit on the exposed edge holds, and costs digging."""
    free = found(seed=6)
    most = free.best.exposed_edge - 0.02
    limited = found(seed=6, exposed_edge=most)
    assert limited.best.exposed_edge <= most + 1e-9
    assert limited.best.value > free.best.value


def test_bought_when_allowed() -> None:
    """On level ground a cubic metre bought raises the formation by a cubic metre over the area, and nothing is dug."""
    ground = square_ground(lambda e, _: 0 * e + 80.0)
    best = find_placement(ground, Pad.rectangle(5.0, 4.0), Limits(bought=1.0), DIGGING, KEEP).best
    assert best.formation == pytest.approx(80.0 + 1.0 / 20.0, abs=1e-9)
    assert best.short == pytest.approx(1.0, abs=1e-9)


def test_best_when_the_site_is_moved() -> None:
    """Half a million metres away the same spot is found."""
    ground = random_yard(9)
    shift = np.array([512_000.0, 5_304_000.0])
    far = Ground(ground.origin + shift, ground.east, ground.north, ground.level, ground.triangles, ground.kind)
    near = find_placement(ground, PAD, Limits(boundary=(YARD,), setback=1.0), DIGGING, KEEP).best
    away = find_placement(far, PAD, Limits(boundary=(YARD + shift,), setback=1.0), DIGGING, KEEP).best
    assert away.value == pytest.approx(near.value, rel=1e-6)
    corners = Placement.corners(away.placement, PAD) - shift
    assert corners == pytest.approx(near.placement.corners(PAD), abs=0.01)


def test_notice_when_the_best_stands_at_a_limit() -> None:
    """A valley outside the setback draws the pad against the line, and a notice names it."""
    ground = square_ground(lambda e, n: 30 + 0.01 * n + 0.004 * (e + 20.0) ** 2, step=1.0)
    yard = np.array([[-10.0, -10.0], [10.0, -10.0], [10.0, 10.0], [-10.0, 10.0]])
    result = find_placement(ground, Pad.rectangle(4.0, 3.0), Limits(boundary=(yard,), setback=1.0), DIGGING, KEEP)
    assert result.best.placement.corners(Pad.rectangle(4.0, 3.0))[:, 0].min() == pytest.approx(-9.0, abs=1e-3)
    assert "as near as it may to the boundary" in " ".join(result.notices)
