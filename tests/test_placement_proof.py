"""The proof: closed forms, an exhaustive twin on small yards, honest stops, and the check by another implementation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from naive_placement import ground_of, random_yard
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.placement import (
    GOALS,
    BearingLimit,
    FinishLimit,
    Goal,
    KeepOut,
    Limits,
    PositionLimit,
    ProofEffort,
    SearchResult,
    find_placement,
)
from spadework.placement.check_proof import check_proof
from spadework.placement.clearance import Clearance
from spadework.placement.objective import Objective
from spadework.placement.proof import lower_bound
from spadework.units import LengthUnit

DIGGING, BALANCE = GOALS["digging"], GOALS["balance"]
FINE = ProofEffort(share=4e-3, amount=1e-4)
PAD = Pad.rectangle(4.5, 3.0, strip=0.05)
YARD = np.array([[0.5, 0.0], [23.0, 1.0], [24.0, 19.0], [1.0, 20.0]])
POND = np.array([[14.0, 3.0], [19.0, 4.0], [18.0, 9.0], [13.0, 8.0]])
LIMITS = Limits(
    boundary=(YARD,),
    setback=1.0,
    keep_outs=(KeepOut.polygon("pond", POND, 0.6), KeepOut.circle("pear tree", (7.0, 13.0), 2.0)),
)


def lattice_ground(level_of: object, half: float, step: float) -> Ground:
    """Return a square about the origin, shots at every ``step``, with levels by a function of east and north."""
    count = round(half / step)
    axis = np.arange(-count, count + 1) * step
    points = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1).reshape(-1, 2)
    return ground_of(points, level_of(points[:, 0], points[:, 1]))  # type: ignore[operator]


def proved(ground: Ground, pad: Pad, goal: Goal, keep: float = 1.0, limits: Limits | None = None) -> SearchResult:
    """Return a search with a fine proof."""
    return find_placement(ground, pad, limits or Limits(), goal, keep, effort=FINE)


def assert_proves(result: SearchResult, value: float, rel: float = 1e-6) -> None:
    """The known optimum is found, and lies between bound and value within the gap asked for."""
    proof = result.proof
    assert proof is not None
    assert proof.finished
    assert result.best.value == pytest.approx(value, rel=rel, abs=1e-7)
    assert proof.lower_bound <= value * (1 + rel) + 1e-12
    assert proof.best == result.best.value
    assert proof.gap <= max(FINE.share, FINE.amount / max(proof.best, 1e-30)) + 1e-9


@pytest.mark.parametrize(("goal", "share", "aspect"), [(DIGGING, 8.0, 0.0), (BALANCE, 4.0, 37.3)])
def test_plane_is_proved_when_the_pad_is_long(goal: Goal, share: float, aspect: float) -> None:
    """On a plane of slope g the least cut + fill is A g w / 4, the long side on the contour where l / w >= sqrt 1.5."""
    fall = np.radians(aspect)
    ground = lattice_ground(lambda e, n: 50 - 0.06 * (e * np.sin(fall) + n * np.cos(fall)), 8.0, 16.0 / 2)
    result = proved(ground, Pad.rectangle(6.0, 4.0), goal)
    assert_proves(result, 24.0 * 0.06 * 4.0 / share)
    assert (result.best.placement.bearing - aspect - 90.0 + 1.0) % 180.0 == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("ratio", [1.2, 1.25])
def test_plane_turns_the_long_side_when_it_is_long_enough(ratio: float) -> None:
    """The long side lies on the contour if and only if l / w >= sqrt 1.5; below that the pad lies askew.

    With drops ``a >= b`` across the sides cut = fill = A (a / 8 + b^2 / (24 a)); a grid of bearings gives its least.
    """
    pad = Pad.rectangle(3.0 * ratio, 3.0)
    result = proved(lattice_ground(lambda _, n: 50 + 0.05 * n, 8.0, 8.0), pad, BALANCE)
    angle = np.radians(np.linspace(0, 180, 18001))
    across = np.abs(0.05 * 3.0 * ratio * np.cos(angle)), np.abs(0.05 * 3.0 * np.sin(angle))
    large, small = np.maximum(*across), np.minimum(*across)
    values = 2 * pad.area * (large / 8 + small**2 / (24 * large))
    assert_proves(result, float(values.min()), rel=1e-6)
    on_contour = abs(result.best.placement.bearing - 90.0) < 0.2
    assert on_contour == (ratio >= np.sqrt(1.5))


def test_ridge_is_proved_with_its_line_along_the_pad() -> None:
    """On a ridge z = -s |east| the least is astride it, its length along the ridge: cut + fill = A s w / 8."""
    ground = lattice_ground(lambda e, _: 50 - 0.1 * np.abs(e), 8.0, 4.0)
    result = proved(ground, Pad.rectangle(5.0, 3.0), BALANCE)
    assert_proves(result, 15.0 * 0.1 * 3.0 / 8)
    assert result.best.placement.east == pytest.approx(0.0, abs=0.02)


def test_valley_is_the_ridge_turned_over() -> None:
    """Turning the ground upside down swaps cut and fill and leaves their sum."""
    ground = lattice_ground(lambda e, _: 50 + 0.1 * np.abs(e), 8.0, 4.0)
    assert_proves(proved(ground, Pad.rectangle(5.0, 3.0), BALANCE), 15.0 * 0.1 * 3.0 / 8)


def test_step_is_proved_when_there_is_flat_ground_beside_it() -> None:
    """Beside a bank 1 m high the ground is flat: nothing to do, and the bound says so."""
    ground = lattice_ground(lambda e, _: 50 + np.clip(e, 0.0, 1.0), 9.0, 1.0)
    assert_proves(proved(ground, Pad.rectangle(5.0, 3.0), BALANCE), 0.0)


def test_step_is_proved_when_the_pad_must_stand_astride() -> None:
    """Astride a ramp from -1/2 to 1/2 with a share of 3/8 on each flat: cut + fill = A H (1 - ramp / (2 l)) / 2."""
    ground = lattice_ground(lambda e, _: 50 + np.clip(e + 0.5, 0.0, 1.0), 6.5, 0.5)
    limits = Limits(position=PositionLimit(0.0, 0.0), bearing=BearingLimit(90.0))
    result = proved(ground, Pad.rectangle(4.0, 3.0), BALANCE, limits=limits)
    assert_proves(result, 12.0 * 0.5 * (1 - 1 / 8))


@pytest.mark.parametrize("shape", ["paraboloid", "saddle", "cone"])
def test_curved_ground_is_proved_at_its_middle(shape: str) -> None:
    """On a cone or paraboloid the pad stands on the axis; on a saddle likewise, its sides along the axes of curvature.

    Values by quadrature of the smooth surface; the triangles of 0.5 m differ from it by their sagitta.
    """
    formulas = {
        "paraboloid": lambda e, n: 0.02 * (e * e + n * n),
        "saddle": lambda e, n: 0.02 * (e * e - n * n),
        "cone": lambda e, n: 0.1 * np.hypot(e, n),
    }
    level = formulas[shape]
    ground = lattice_ground(lambda e, n: 50 + level(e, n), 3.0, 0.5)
    pad = Pad.rectangle(3.0, 2.0)
    result = proved(ground, pad, BALANCE)
    middle = (np.arange(600) + 0.5) / 600 - 0.5
    u, v = np.meshgrid(3.0 * middle, 2.0 * middle)
    least = np.inf
    for turn in np.radians(np.arange(0.0, 180.0, 5.0)):
        z = level(u * np.sin(turn) + v * np.cos(turn), u * np.cos(turn) - v * np.sin(turn))
        least = min(least, float(np.abs(z - z.mean()).mean()) * pad.area)
    assert result.proof is not None
    assert result.proof.finished
    assert result.best.value == pytest.approx(least, rel=0.05)
    assert np.hypot(result.best.placement.east, result.best.placement.north) < 0.25


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("goal", [DIGGING, BALANCE], ids=["digging", "balance"])
def test_optimum_is_that_of_a_fine_search_within_the_gap(seed: int, goal: Goal) -> None:
    """No pose of a fine grid is below the bound, and the best of it is no better than the spot by more than the gap.

    A short version of ``tests/studies/proof_on_small_yards.py``, which does a hundred.
    """
    ground = random_yard(seed, 40, (11.0, 9.0))
    limits = Limits(boundary=(np.array([[0.0, 0.0], [11.0, 0.5], [10.5, 9.0], [0.3, 8.5]]),), setback=0.3)
    pad = Pad.rectangle(3.0, 2.2)
    result = find_placement(ground, pad, limits, goal, 0.9, effort=ProofEffort())
    proof = result.proof
    assert proof is not None
    assert proof.finished
    objective = Objective(ground, pad, limits, goal, 0.9, Clearance.of(pad, limits, ground.outline(), ground.origin))
    axes = np.arange(0, 11, 0.15), np.arange(0, 9, 0.15), np.arange(0, 180, 3.0)
    poses = np.stack([axis.ravel() for axis in np.meshgrid(*axes)], axis=-1)
    least = objective.values(poses).min()
    assert proof.lower_bound <= least
    assert result.best.value <= least + 1e-9
    assert result.best.value - proof.lower_bound <= max(0.01 * result.best.value, 0.005) + 1e-9


def test_proof_is_the_same_when_it_is_made_again() -> None:
    """Two runs give equal proofs, to the last digit."""
    one, other = (find_placement(random_yard(4), PAD, LIMITS, DIGGING, 0.9, effort=ProofEffort()) for _ in range(2))
    assert one.proof == other.proof
    assert one.best == other.best


@pytest.mark.parametrize(("dx", "dy", "dz"), [(512.0, -256.0, 40.0)])
def test_proof_moves_with_the_site(dx: float, dy: float, dz: float) -> None:
    """Shifting or raising the whole site changes neither value nor bound beyond rounding."""
    here = random_yard(8, 40)
    there = replace(here, origin=here.origin + np.array([dx, dy]), level=here.level + dz)
    moved = replace(LIMITS, boundary=(YARD + np.array([dx, dy]),), keep_outs=())
    one = find_placement(here, PAD, replace(LIMITS, keep_outs=()), DIGGING, 0.9, effort=ProofEffort()).proof
    other = find_placement(there, PAD, moved, DIGGING, 0.9, effort=ProofEffort()).proof
    assert one is not None
    assert other is not None
    assert other.best == pytest.approx(one.best, rel=1e-6)
    assert other.lower_bound == pytest.approx(one.lower_bound, rel=1e-2)


def test_a_better_spot_is_found_when_the_search_missed_it() -> None:
    """Started from a poor spot, branch and bound ends at the same value as the search."""
    ground = random_yard(4)
    objective = Objective(ground, PAD, LIMITS, BALANCE, 0.9, Clearance.of(PAD, LIMITS, ground.outline(), ground.origin))
    result = find_placement(ground, PAD, LIMITS, BALANCE, 0.9)
    poor = result.alternatives[-1]
    start = np.array([poor.placement.east, poor.placement.north, poor.placement.bearing])
    bound = lower_bound(objective, ground.outline(), start, poor.value, effort=FINE)
    assert bound is not None
    assert bound.finished
    assert bound.best == pytest.approx(result.best.value, rel=4e-3)
    assert bound.best < poor.value


def test_a_stopped_proof_is_honest() -> None:
    """With no effort left the bound is still a bound, and the sentence says what is not ruled out."""
    result = find_placement(random_yard(4), PAD, LIMITS, BALANCE, 0.9, effort=ProofEffort(1e-4, 0.0, work=1))
    proof = result.proof
    assert proof is not None
    assert not proof.finished
    assert 0 <= proof.lower_bound <= result.best.value
    assert "not ruled out" in proof.statement
    full = find_placement(random_yard(4), PAD, LIMITS, BALANCE, 0.9, effort=FINE).proof
    assert full is not None
    assert proof.lower_bound <= full.best


@pytest.mark.parametrize("unit", [LengthUnit.METRE, LengthUnit.FOOT_INCH])
def test_statement_rounds_to_the_side_on_which_it_stays_true(unit: LengthUnit) -> None:
    """The bound is printed rounded down, the value rounded up, in the user's unit."""
    proof = find_placement(random_yard(4), PAD, LIMITS, DIGGING, 0.9, unit=unit, effort=ProofEffort()).proof
    assert proof is not None
    per_unit = 1.0 if unit is LengthUnit.METRE else 1 / 0.9144**3
    words = proof.statement.replace(".", " .", 0).split()
    low, best = (float(words[i - 1]) for i, word in enumerate(words) if word.strip(".;") in {"m³", "yd³"})
    assert low <= proof.lower_bound * per_unit < low + 0.0011
    assert best - 0.0011 < proof.best * per_unit <= best
    assert proof.statement.startswith("No spot allowed here needs less than")


GOAL_AND_FINISH = [
    (GOALS["wall"], FinishLimit()),
    (BALANCE, FinishLimit("flush")),
    (BALANCE, FinishLimit("flush-low")),
    (Goal("mix", cut=1.0, wall=0.5, buys=False), FinishLimit()),
    (Goal("costs", cut=30.0, fill=20.0, over=50.0, short=45.0, wall=100.0, strip=9.0), FinishLimit()),
]


@pytest.mark.parametrize(("goal", "finish"), GOAL_AND_FINISH, ids=lambda value: getattr(value, "kind", None))
def test_every_goal_and_finish_is_proved_and_checked_another_way(goal: Goal, finish: FinishLimit) -> None:
    """The proof closes to 1 %, a geometry library finds no placement below it, and the spot has its value."""
    ground = random_yard(6, 30)
    limits = replace(LIMITS, finish=finish)
    result = find_placement(ground, PAD, limits, goal, 0.9, effort=ProofEffort())
    proof = result.proof
    assert proof is not None
    assert proof.finished
    assert proof.best - proof.lower_bound <= max(0.01 * proof.best, 0.005) + 1e-9
    check = check_proof(ground, PAD, limits, goal, 0.9, result, samples=60)
    assert check.holds
    assert check.allowed >= 10


@pytest.mark.parametrize("least", [0.0, 0.4])
def test_lowest_edge_on_a_plane_is_half_its_rise(least: float) -> None:
    """On a plane of slope g the edge of an l by w pad at bearing t rises g (l |cos t| + w |sin t|), least at g w."""
    ground = lattice_ground(lambda _, n: 50 + 0.06 * n, 8.0, 8.0)
    result = proved(ground, Pad.rectangle(6.0, 4.0), Goal("edge", cut=1e-6 * least, wall=1.0))
    assert_proves(result, 0.06 * 4.0 / 2, rel=1e-5)


def test_flush_low_on_a_plane_digs_half_the_rise() -> None:
    """Flush with the lowest ground all above it is dug: A g w / 2 with the long side on the contour."""
    ground = lattice_ground(lambda _, n: 50 + 0.06 * n, 8.0, 8.0)
    limits = Limits(finish=FinishLimit("flush-low"))
    result = proved(ground, Pad.rectangle(6.0, 4.0), Goal("dug", cut=1.0, fill=1.0), limits=limits)
    assert_proves(result, 24.0 * 0.06 * 4.0 / 2)


@pytest.mark.parametrize(
    "limit", [{"exposed_edge": 0.12}, {"cut_depth": 0.1}, {"fill_depth": 0.1}, {"cut_depth": 0.2, "exposed_edge": 0.2}]
)
def test_gap_closes_when_a_limit_holds_the_level(limit: dict[str, float]) -> None:
    """Limits on the level are in the bound: with them the optimum costs more, and the proof still closes."""
    ground = random_yard(4)
    free = find_placement(ground, PAD, LIMITS, BALANCE, 0.9)
    result = find_placement(ground, PAD, replace(LIMITS, **limit), BALANCE, 0.9, effort=ProofEffort())
    proof = result.proof
    assert proof is not None
    assert proof.finished
    assert result.best.value >= free.best.value - 1e-9
    assert proof.best - proof.lower_bound <= max(0.01 * proof.best, 0.005) + 1e-9


@pytest.mark.parametrize("goal", [DIGGING], ids=["digging"])
@pytest.mark.parametrize(
    "limits",
    [
        LIMITS,
        replace(LIMITS, bearing=BearingLimit(25.0)),
        Limits(position=PositionLimit(9.0, 9.0)),
        Limits(position=PositionLimit(9.0, 9.0, "B")),
        Limits(finish=FinishLimit("fixed", 99.6)),
    ],
    ids=["yard", "bearing", "centre", "corner", "finish"],
)
@pytest.mark.parametrize("reserve", [0.0, 0.3], ids=["own soil", "a trench"])
def test_proof_holds_when_it_is_checked_another_way(goal: Goal, limits: Limits, reserve: float) -> None:
    """Sampled placements, worked out by a geometry library with a searched level, are never below the bound."""
    ground = random_yard(6, 30)
    result = find_placement(ground, PAD, limits, goal, 0.9, effort=ProofEffort(), reserve=reserve)
    assert result.reserve == reserve
    assert result.proof is not None
    assert result.proof.finished
    check = check_proof(ground, PAD, limits, goal, 0.9, result, samples=60)
    assert check.holds
    assert check.allowed >= 10
    assert check.lowest >= result.proof.lower_bound


def test_check_fails_when_the_bound_is_too_high() -> None:
    """A bound above the best spot does not pass."""
    ground = random_yard(6, 30)
    result = find_placement(ground, PAD, LIMITS, BALANCE, 0.9, effort=ProofEffort())
    assert result.proof is not None
    wrong = replace(result, proof=replace(result.proof, lower_bound=result.proof.best * 1.2))
    check = check_proof(ground, PAD, LIMITS, BALANCE, 0.9, wrong, samples=60)
    assert not check.holds
    assert "one is better than the bound" in check.sentence


@pytest.mark.parametrize("goal", [BALANCE, GOALS["wall"]], ids=["balance", "wall"])
def test_short_search_with_a_proof_ends_where_the_long_one_does(goal: Goal) -> None:
    """A search that the proof follows polishes fewer starts; the spot costs what that of the full search costs."""
    ground = random_yard(3)
    short = find_placement(ground, PAD, LIMITS, goal, 0.9, effort=ProofEffort())
    full = find_placement(ground, PAD, LIMITS, goal, 0.9)
    assert short.evaluated < full.evaluated
    assert short.best.value == pytest.approx(full.best.value, rel=1e-3)
