"""Least barrowing: closed forms, the account of moves as a second implementation, bounds, and an exhaustive twin."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from naive_placement import ground_of, random_yard
from spadework.errors import InputError
from spadework.factors import SoilFactors, soil_factors
from spadework.ground import Ground
from spadework.haul import YardCarrier, plan_haul
from spadework.pad import Edge, Pad, Placement
from spadework.placement import (
    GOALS,
    BearingLimit,
    FinishLimit,
    Goal,
    GoalTerms,
    KeepOut,
    Limits,
    PositionLimit,
    ProofEffort,
    SearchResult,
    find_banked_placement,
    find_placement,
    goal_from,
)
from spadework.placement.bound_rule import goal_rule
from spadework.placement.carrying import Carrying
from spadework.placement.check_proof import check_proof
from spadework.placement.clearance import Clearance
from spadework.placement.goal_words import value_label, value_words
from spadework.placement.moved_proof import MovedTree
from spadework.placement.objective import Objective
from spadework.readings import FloatArray
from spadework.units import LengthUnit

MOVED = GOALS["moved"]
LOAM = soil_factors("loam")
STIFF = replace(LOAM, swell=0.0, swell_low=0.0, swell_high=0.0, shrink=0.0, shrink_low=0.0, shrink_high=0.0)
"""Soil that neither swells nor shrinks: closed forms are in volumes."""
SWELLING = replace(LOAM, shrink=-0.1, shrink_low=-0.1, shrink_high=-0.1)
BARROW = 0.1
L_SHAPE = np.array([[-2.0, -1.5], [2.0, -1.5], [2.0, 0.0], [0.25, 0.0], [0.25, 1.5], [-2.0, 1.5]])
POND = KeepOut.polygon("pond", np.array([[14.0, 3.0], [19.0, 4.0], [18.0, 9.0], [13.0, 8.0]]), 0.6)


def objective_of(
    ground: Ground, pad: Pad, limits: Limits, soil: SoilFactors, goal: Goal = MOVED, reserve: float = 0.0
) -> Objective:
    """Return the objective of a yard with a barrow of 100 litres."""
    carrying = Carrying.of(pad, YardCarrier(ground, limits, soil, BARROW))
    clearance = Clearance.of(pad, limits, ground.outline(), ground.origin)
    return Objective(ground, pad, limits, goal, 1.0 - soil.shrink, clearance, reserve, carrying)


def search(ground: Ground, pad: Pad, limits: Limits, goal: Goal = MOVED, *, gap: float | None = 0.02) -> SearchResult:
    """Return a search in loam with a proof to a gap, or with none."""
    soil = LOAM
    carrier = YardCarrier(ground, limits, soil, BARROW)
    effort = None if gap is None else ProofEffort(share=gap, amount=1e-6, seconds=1e6)
    return find_placement(ground, pad, limits, goal, soil, carrier=carrier, effort=effort)


def square_ground(level_of: object, across: FloatArray, turn: float = 0.0) -> Ground:
    """Return ground 16 m square whose level hangs on the distance across a line through its middle, turned."""
    along = np.linspace(-8.0, 8.0, 9)
    v, u = (axis.ravel() for axis in np.meshgrid(across, along))
    sine, cosine = math.sin(math.radians(turn)), math.cos(math.radians(turn))
    points = np.column_stack([u * sine + v * cosine, u * cosine - v * sine])
    return ground_of(points, level_of(v))  # type: ignore[operator]


@pytest.mark.parametrize("turn", [0.0, 17.0, 120.0])
@pytest.mark.parametrize(("long", "wide"), [(4.0, 3.0), (3.0, 5.0)])
def test_plane_gives_its_closed_form(turn: float, long: float, wide: float) -> None:
    """Across a plane of slope s, soil of a pad L by W goes ``L W³ s / 12`` metres times volume.

    Each strip passes on what lies above it: ``∫ L s (W² / 4 - v²) / 2 dv``. In n rows of cells the sum over their
    n - 1 borders is that times ``1 - 1 / n²``.
    """
    slope = 0.04
    ground = square_ground(lambda v: slope * v, np.linspace(-8.0, 8.0, 9), turn)
    objective = objective_of(ground, Pad.rectangle(long, wide), Limits(), STIFF)
    rows = wide / 0.5
    expected = long * wide**3 * slope / 12 * (1 - 1 / rows**2) / BARROW
    assert objective.true_values(np.array([[0.3, -0.2, turn]]))[0] == pytest.approx(expected, rel=1e-6)
    # The first moment of a plane along the pad is the whole of it.
    assert objective.values(np.array([[0.3, -0.2, turn]]))[0] == pytest.approx(expected, rel=1e-6)


def test_ridge_and_valley_give_their_closed_form() -> None:
    """On a fold through the middle each half is a plane of its own: ``2 L s (W / 2)³ / 12``, and no first moment."""
    slope, long, wide = 0.1, 4.0, 4.0
    rows = wide / 2 / 0.5
    expected = 2 * long * slope * (wide / 2) ** 3 / 12 * (1 - 1 / rows**2) / BARROW
    for sign in (1.0, -1.0):
        ground = square_ground(lambda v, sign=sign: sign * slope * np.abs(v), np.linspace(-8.0, 8.0, 9))
        objective = objective_of(ground, Pad.rectangle(long, wide), Limits(), STIFF)
        pose = np.array([[0.0, 0.0, 0.0]])
        assert objective.values(pose)[0] == pytest.approx(0.0, abs=1e-6)
        assert objective.true_values(pose)[0] == pytest.approx(expected, rel=1e-6)
        # Its prices are kept, and the bound is the value from then on.
        assert objective.values(pose)[0] == pytest.approx(expected, rel=1e-6)


def test_step_gives_its_closed_form() -> None:
    """Along a step of height h every part of the upper half goes half the width: ``L (W / 2) (h / 2) (W / 2)``."""
    high, long, wide = 0.3, 3.0, 4.0
    across = np.array([-8.0, -4.0, -1e-7, 1e-7, 4.0, 8.0])
    ground = square_ground(lambda v: np.where(v > 0, high, 0.0), across)
    objective = objective_of(ground, Pad.rectangle(long, wide), Limits(), STIFF)
    expected = long * wide**2 * high / 8 / BARROW
    assert objective.true_values(np.array([[0.0, 0.0, 0.0]]))[0] == pytest.approx(expected, rel=1e-5)


def test_flat_ground_dug_down_is_carried_to_the_heap() -> None:
    """With nothing to fill, each cell goes straight to the heap, whose rise of half the depth counts ten times."""
    ground = square_ground(lambda v: 0.0 * v, np.linspace(-8.0, 8.0, 9))
    pad, depth = Pad.rectangle(3.0, 2.0), 0.1
    limits = Limits(finish=FinishLimit("fixed", -depth))
    objective = objective_of(ground, pad, limits, STIFF)
    haul = plan_haul(ground, pad, Placement(0.0, 0.0, 0.0, -depth), STIFF, limits, barrow=BARROW)
    heap = haul.heaps[-1]
    u, v = (axis.ravel() for axis in np.meshgrid(np.arange(-1.25, 1.5, 0.5), np.arange(-0.75, 1.0, 0.5)))
    # At bearing 0 the pad's length runs north, and v to the east.
    ways = np.hypot(v - heap.east, u - heap.north) + 10.0 * depth / 2
    expected = float((0.25 * depth * ways).sum()) / BARROW
    assert objective.true_values(np.array([[0.0, 0.0, 0.0]]))[0] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("finish", "soil"),
    [
        (FinishLimit(), LOAM),
        (FinishLimit(), SWELLING),
        (FinishLimit("flush-low"), LOAM),
        (FinishLimit("fixed", 99.4), STIFF),
    ],
    ids=["free", "free, swelling", "flush", "fixed"],
)
@pytest.mark.parametrize("shape", ["rectangle", "L"])
def test_value_is_the_sum_of_the_account_of_moves(finish: FinishLimit, soil: SoilFactors, shape: str) -> None:
    """What a spot is said to ask for is what `plan_haul` prints for it, by another program with more unknowns."""
    ground = random_yard(3, 60)
    pad = Pad.rectangle(4.5, 3.0, strip=0.05) if shape == "rectangle" else Pad(L_SHAPE, strip=0.05)
    limits = Limits(keep_outs=(POND,), finish=finish)
    objective = objective_of(ground, pad, limits, soil)
    random = np.random.default_rng(1)
    poses = np.column_stack([random.uniform(3, 21, 40), random.uniform(3, 17, 40), random.uniform(0, 360, 40)])
    outcome, told = objective.evaluate(poses), 0
    for row in np.flatnonzero(np.isfinite(outcome.value))[:4]:
        spot = objective.exactly(objective.spot(outcome, int(row)))
        haul = plan_haul(ground, pad, spot.placement, soil, limits, barrow=BARROW)
        if haul.without_room:
            continue
        assert spot.moved == pytest.approx(haul.barrow_metres, rel=1e-6)
        assert outcome.value[row] <= spot.value * (1 + 1e-9)
        told += 1
    assert told > 0


def test_value_does_not_hang_on_where_north_is() -> None:
    """Yard and pad turned and shifted together ask for the same."""
    shots, turn = random_yard(5, 50), 37.0
    pad, pose = Pad.rectangle(4.0, 2.5), np.array([[11.0, 9.0, 20.0]])
    sine, cosine = math.sin(math.radians(turn)), math.cos(math.radians(turn))
    # Clockwise, as bearings go.
    spin = np.array([[cosine, sine], [-sine, cosine]])
    places = np.column_stack([shots.east, shots.north]) + shots.origin
    turned = ground_of(places @ spin.T + [1000.0, 2000.0], shots.level)
    there = np.array([[*(spin @ pose[0, :2] + [1000.0, 2000.0]), 20.0 + turn]])
    values = [
        objective_of(ground, pad, Limits(), LOAM).true_values(at)[0] for ground, at in ((shots, pose), (turned, there))
    ]
    assert values[0] == pytest.approx(values[1], rel=1e-6)


CASES = {
    "free": (Pad.rectangle(4.5, 3.0, strip=0.05), Limits(), LOAM, 0.0),
    "free, as it was": (Pad.rectangle(4.5, 3.0), Limits(), STIFF, 0.0),
    "free, swelling, L": (Pad(L_SHAPE), Limits(), SWELLING, 0.0),
    "trench": (Pad.rectangle(4.5, 3.0), Limits(), LOAM, 0.2),
    "edge may show little": (Pad.rectangle(4.5, 3.0), Limits(exposed_edge=0.15), LOAM, 0.0),
    "some bought": (Pad.rectangle(4.5, 3.0), Limits(bought=0.3), LOAM, 0.0),
    "between bounds": (Pad.rectangle(4.0, 3.0), Limits(finish=FinishLimit(lowest=99.2, highest=99.5)), LOAM, 0.0),
    "flush low": (Pad.rectangle(4.0, 3.0), Limits(finish=FinishLimit("flush-low")), LOAM, 0.0),
    "fixed, some bought": (Pad.rectangle(4.0, 3.0), Limits(finish=FinishLimit("fixed", 99.5), bought=2.0), LOAM, 0.0),
    "corner still": (Pad.rectangle(4.0, 3.0), Limits(position=PositionLimit(12.0, 9.0, "A")), LOAM, 0.0),
}


@pytest.mark.parametrize("case", CASES)
def test_no_pose_of_a_box_lies_under_its_bound(case: str) -> None:
    """Random boxes from millimetres to half a metre, and poses drawn from them, worked out."""
    pad, limits, soil, reserve = CASES[case]
    ground, random = random_yard(3, 60), np.random.default_rng(7)
    objective = objective_of(ground, pad, limits, soil, reserve=reserve)
    plain = replace(objective, goal=objective.goal.without_moved, carrying=None)
    tree = MovedTree(objective, goal_rule(plain), ground.outline(), ProofEffort())
    inside = [[11.0, 8.0, 0.0]] if limits.position else np.column_stack([
        random.uniform(4, 20, 24), random.uniform(4, 16, 24), random.uniform(0, 2 * np.pi, 24)])  # fmt: skip
    middles = np.array(inside)
    if limits.position:
        middles = np.column_stack([np.full((24, 2), [12.0, 9.0]), random.uniform(0, 2 * np.pi, 24)])
    middles[:, :2] -= ground.origin
    half = 10.0 ** random.uniform(-4.0, -0.3, 24)
    flat = 0.0 if limits.position else 1.0
    boxes = np.column_stack([middles, half * flat, half * flat, half / 3])
    share = random.uniform(-1, 1, (24, 3, 3)) * random.choice([0.0, 1.0, 1.0], (24, 3, 1))
    poses = (boxes[:, None, :3] + share * boxes[:, None, 3:]).reshape(-1, 3)
    poses[:, :2] += ground.origin
    poses[:, 2] = np.degrees(poses[:, 2])
    if limits.position:
        poses[:, :2] = limits.position.centres(pad, poses[:, 2])
    true = objective.true_values(poses).reshape(24, 3)  # which also finds prices
    found = tree.barrowing.of(boxes)
    assert np.isfinite(true).sum() > 10
    assert (found.lower[:, None] <= true + 1e-6 * (1 + np.abs(true))).all()
    small = (half < 1e-3)[:, None] & np.isfinite(true)
    if case.startswith(("free", "trench")):
        # A bound that said nothing would pass: of a box of a millimetre it says nearly all.
        assert (found.lower[:, None] > 0.9 * true)[small].all()
        assert small.any()


@pytest.mark.parametrize("seed", [5, 6])
def test_spot_is_that_of_an_exhaustive_search(seed: int) -> None:
    """On a small yard no pose of a fine grid has less than the bound, nor less than the best but for a hair."""
    ground, pad = random_yard(seed, 25, (6.0, 5.0)), Pad.rectangle(3.0, 2.0)
    result = search(ground, pad, Limits())
    proof = result.proof
    assert proof is not None
    assert proof.finished
    assert proof.gap <= 0.0201
    objective = objective_of(ground, pad, Limits(), LOAM)
    west, south, east, north = ground.bounds
    axes = (np.arange(west + 1, east - 1, 0.25), np.arange(south + 1, north - 1, 0.25), np.arange(0.0, 180.0, 12.0))
    grid = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=-1)
    outcome = objective.evaluate(grid)
    rows = np.flatnonzero(np.isfinite(outcome.value))
    rows = rows[np.argsort(outcome.value[rows])][:600]
    true: list[float] = []
    for row in rows:
        # What the grid is screened by is never more than the value: from here on none can be the least.
        if len(true) > 100 and outcome.value[row] > min(true):
            break
        true.append(objective.exactly(objective.spot(outcome, int(row))).value)
        assert outcome.value[row] <= true[-1] * (1 + 1e-9)
    assert min(true) >= proof.lower_bound
    assert result.best.value <= min(true) * (1 + 1e-9)


def test_proof_is_confirmed_another_way() -> None:
    """Cells by a geometry library and moves by a linear program give the best spot its value, and nothing below."""
    ground, pad, limits = random_yard(4, 30, (9.0, 8.0)), Pad.rectangle(3.0, 2.0, strip=0.05), Limits(exposed_edge=0.5)
    result = search(ground, pad, limits, gap=0.1)
    check = check_proof(ground, pad, limits, MOVED, 1.0 - LOAM.shrink, result, samples=100)
    assert check.holds
    assert check.allowed >= 5
    assert check.best_again == pytest.approx(result.best.value, rel=1e-5)


def test_mix_is_the_sum_of_its_parts_and_is_proved() -> None:
    """Digging and a part of the barrowing: the value is their sum, and the bound holds for the sum."""
    goal = goal_from({"digging": 1.0, "moved": 0.05}, GoalTerms(LOAM))
    assert (goal.cut, goal.moved, goal.buys) == (1.0, 0.05, False)
    ground, pad = random_yard(2, 25, (7.0, 6.0)), Pad.rectangle(3.0, 2.0)
    mixed, alone = search(ground, pad, Limits(), goal, gap=0.05), search(ground, pad, Limits(), gap=None)
    best = mixed.best
    assert best.value == pytest.approx(best.cut + 0.05 * (best.moved or 0.0), rel=1e-9)
    assert (best.moved or 0.0) >= alone.best.value * (1 - 1e-3)
    assert alone.proof is None
    assert "no bound proves" in alone.searched
    assert mixed.proof is not None
    assert mixed.proof.finished
    dug = find_placement(ground, pad, Limits(), GOALS["digging"], LOAM).best
    assert mixed.proof.lower_bound >= dug.cut


def test_spot_with_a_fixed_place_is_worked_out_there() -> None:
    """With place and bearing given nothing is left but to work it out."""
    ground, pad = random_yard(6, 40), Pad.rectangle(4.0, 3.0)
    limits = Limits(position=PositionLimit(11.0, 9.0), bearing=BearingLimit(30.0))
    result = search(ground, pad, limits)
    haul = plan_haul(ground, pad, result.best.placement, LOAM, limits, barrow=BARROW)
    assert result.best.value == pytest.approx(haul.barrow_metres, rel=1e-6)


def test_alternatives_say_how_much_more_barrowing_they_ask_for() -> None:
    """They are no better than the best, and their sentence says by how much."""
    result = search(random_yard(3, 40, (12.0, 10.0)), Pad.rectangle(3.0, 2.0), Limits(), gap=None)
    assert result.alternatives
    for spot in result.alternatives:
        assert spot.value >= result.best.value * (1 - 1e-9)
        assert "barrow-m more barrowing" in spot.what_differs or "the same barrowing" in spot.what_differs


def test_goal_is_in_barrow_lengths() -> None:
    """Loads times way are a length: metres where the site is in metres, feet where it is in feet."""
    assert value_label(MOVED, LengthUnit.METRE) == "moved [barrow-m]"
    assert value_words(MOVED, 0.3048, LengthUnit.FOOT_INCH) == "1.00 barrow-ft"
    assert value_words(MOVED, 1.234, LengthUnit.METRE, "down") == "1.23 barrow-m"


def test_finish_of_a_mix_is_that_of_the_rest() -> None:
    """Barrowing bounds no level: by itself it takes that of digging, in a mix that of the other parts."""
    assert MOVED.without_moved.cut == 1.0
    assert not MOVED.without_moved.buys
    mix = goal_from({"wall": 2.0, "moved": 0.1}, GoalTerms(LOAM))
    assert (mix.without_moved.wall, mix.without_moved.moved) == (2.0, 0.0)
    assert goal_from({"fill": 1.0, "moved": 0.1}, GoalTerms(LOAM)).without_moved.cut == 1.0


def test_banks_and_a_missing_carrier_are_refused() -> None:
    """A bank's soil is not searched by its way; without ways there is no barrowing."""
    ground = random_yard(6, 40)
    bank = Pad.rectangle(4.0, 3.0)
    bank = replace(bank, edge=Edge("bank", cut_slope=1.0, fill_slope=0.5))
    with pytest.raises(InputError, match="counts barrowing, and the edge is a bank"):
        find_banked_placement(ground, bank, Limits(), MOVED, LOAM)
    with pytest.raises(ValueError, match="carrier"):
        find_placement(ground, Pad.rectangle(4.0, 3.0), Limits(), MOVED, LOAM)
