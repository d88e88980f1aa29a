"""The bound of pads with banks: never above a value of its box, tight at the centre, and a whole proof."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest

from grounds import rough, scattered
from spadework.earthwork._compile import COMPILED
from spadework.ground import Ground
from spadework.pad import Edge, Pad
from spadework.pad_shapes import l_shape
from spadework.placement import (
    GOALS,
    BearingLimit,
    FinishLimit,
    Goal,
    KeepOut,
    Limits,
    PositionLimit,
    ProofEffort,
    find_banked_placement,
)
from spadework.placement.banked_objective import BankedObjective, objective_of
from spadework.placement.banked_proof import BankedTree
from spadework.placement.clearance import Clearance

pytestmark = pytest.mark.skipif(not COMPILED, reason="without a compiler there is no bound")

YARD = np.array([[2.0, 2.0], [28.0, 2.0], [28.0, 38.0], [2.0, 38.0]])
TREE = KeepOut.circle("oak", (14.0, 20.0), 3.0)
LIMITS = Limits(boundary=(YARD,), setback=1.0, keep_outs=(TREE,))
MITRED, ROUND = Edge("bank", "", 1 / 1.5, 1 / 2.0), Edge("bank", "", 1 / 1.5, 1 / 2.0, "round")
PADS = {
    "mitred": Pad.rectangle(5.0, 3.5, strip=0.05, edge=MITRED),
    "round": Pad.rectangle(5.0, 3.5, strip=0.05, edge=ROUND),
    "L-mitred": Pad(l_shape(6.0, 5.0, "C", (3.0, 2.5)), edge=MITRED),
    "L-round": Pad(l_shape(6.0, 5.0, "C", (3.0, 2.5)), edge=ROUND),
}
YARDS: dict[str, Ground] = {
    "gentle": scattered(70, rough(3, sd=0.06), seed=3),
    "hilly": scattered(120, lambda e, n: 50.0 + 0.12 * e - 0.08 * n + 0.3 * np.sin(e / 4) * np.cos(n / 5), seed=9),
}
GOAL_LIST = {
    "digging": GOALS["digging"],
    "balance": GOALS["balance"],
    "cost": Goal("cost", cut=2.0, fill=3.0, over=1.0, short=4.0, strip=5.0),
    "plain": Goal("plain", cut=1.0, fill=2.0),
    "dear-soil": Goal("dear", cut=0.2, fill=0.5, over=3.0, short=0.1),
}
FINISHES = ("free", "fixed", "flush", "flush-low", "between", "limited")


@cache
def tree_of(pad: str, yard: str, goal: str, finish: str) -> tuple[BankedTree, BankedObjective]:
    """The boxes of a proof, and its exact objective."""
    ground = YARDS[yard]
    level = float(np.median(ground.level))
    limits = {
        "free": LIMITS,
        "fixed": replace(LIMITS, finish=FinishLimit("fixed", level)),
        "flush": replace(LIMITS, finish=FinishLimit("flush")),
        "flush-low": replace(LIMITS, finish=FinishLimit("flush-low")),
        "between": replace(LIMITS, finish=FinishLimit("free", None, level - 0.1, level + 0.1)),
        "limited": replace(LIMITS, cut_depth=0.4, fill_depth=0.3, bought=0.5, carted=1.0),
    }[finish]
    clearance = Clearance.of(PADS[pad], limits, ground.outline(), ground.origin)
    objective = objective_of(ground, PADS[pad], limits, GOAL_LIST[goal], 0.9, clearance)
    assert isinstance(objective, BankedObjective)
    return BankedTree(objective, ground.outline(), ProofEffort()), objective


@pytest.mark.parametrize("finish", FINISHES)
@pytest.mark.parametrize("goal", list(GOAL_LIST))
@pytest.mark.parametrize(
    ("pad", "yard"),
    [("mitred", "gentle"), ("mitred", "hilly"), ("round", "hilly"), ("L-mitred", "hilly"), ("L-round", "gentle")],
)
def test_no_pose_of_a_box_lies_under_its_bound(pad: str, yard: str, goal: str, finish: str) -> None:
    """Boxes from a millimetre to most of a metre, poses in them at random and at their corners; both bounds."""
    tree, objective = tree_of(pad, yard, goal, finish)
    draw = np.random.default_rng(len(yard) * 101 + len(finish))
    turf = objective.goal.strip * objective.strip_volume
    for half in (1e-3, 1e-2, 0.05, 0.2, 0.8):
        centre = draw.uniform([4.0, 4.0, 0.0], [26.0, 36.0, np.pi], (16, 3))
        centre[:, :2] -= objective.ground.origin
        width = half * draw.uniform(0.3, 1.0, (16, 3)) / [1.0, 1.0, tree.pad.reach]
        boxes = np.hstack([centre, width])
        offset = draw.uniform(-1, 1, (16, 14, 3))
        offset[:, :8] = np.array(list(product((-1, 1), repeat=3)))
        poses = (centre[:, None] + offset * width[:, None]).reshape(-1, 3)
        poses[:, :2] += objective.ground.origin
        poses[:, 2] = np.degrees(poses[:, 2])
        least = (objective.values(poses) - turf).reshape(16, 14).min(axis=1)
        dual = tree.dual(boxes)[:, 0]
        both = tree.bounds(boxes, np.full(16, True), np.inf)[:, 0]
        assert (dual <= least + 1e-9).all()
        assert (both <= least + 1e-9).all()
        assert (both >= dual).all()


@pytest.mark.parametrize("goal", list(GOAL_LIST))
@pytest.mark.parametrize("yard", list(YARDS))
def test_bound_is_the_value_itself_when_a_box_is_small(yard: str, goal: str) -> None:
    """At the centre of a box of a micrometre the bound is the exact value less rounding, turf under the banks aside."""
    tree, objective = tree_of("mitred", yard, goal, "free")
    draw = np.random.default_rng(2)
    centre = draw.uniform([5.0, 5.0, 0.0], [25.0, 35.0, 180.0], (200, 3))
    found = objective.evaluate(centre)
    # Where the land, or soil that counts whichever way, holds the level, the bound lets it go.
    kept = np.isfinite(found.value) & (found.formation > found.least + 1e-6) & (found.formation < found.most - 1e-6)
    assert kept.sum() > 20
    boxes = np.column_stack(
        [centre[:, :2] - objective.ground.origin, np.radians(centre[:, 2]), np.full((200, 3), 1e-6)]
    )
    bound = tree.dual(boxes)[kept, 0]
    turf = objective.goal.strip * (found.strip[kept] if objective.goal.strip else 0.0)
    value = found.value[kept] - turf
    if objective.goal.strip:  # the best level without turf is another
        assert (bound <= value + 1e-9).all()
        assert np.median(bound / value) > 0.98
    else:
        assert bound == pytest.approx(value, rel=1e-4, abs=1e-5)


@pytest.mark.parametrize("goal", ["digging", "balance", "plain", "dear-soil", "cost"])
def test_bare_pad_never_costs_more_than_the_pad_with_its_banks(goal: str) -> None:
    """With the finish free, vertical sides cost at most what banks do, at every pose (banks only add soil)."""
    for yard in YARDS:
        _, objective = tree_of("mitred", yard, goal, "free")
        poses = np.random.default_rng(4).uniform([4.0, 4.0, 0.0], [26.0, 36.0, 180.0], (3000, 3))
        with_banks = objective.values(poses)
        bare = objective.bare().values(poses)
        allowed = np.isfinite(with_banks)
        assert allowed.sum() > 300
        assert (bare[allowed] <= with_banks[allowed] + 1e-9).all()


@pytest.mark.parametrize("corners", ["mitred", "round"])
@pytest.mark.parametrize("goal", ["digging", "balance", "plain"])
def test_proof_closes_and_no_placement_lies_under_it(goal: str, corners: str) -> None:
    """On a yard of 70 shots the gap closes to 1 % or 5 litres; of 20,000 placements none is under the bound."""
    found = find_banked_placement(YARDS["gentle"], PADS[corners], LIMITS, GOAL_LIST[goal], 0.9, effort=ProofEffort())
    proof = found.proof
    assert proof is not None
    assert proof.finished
    assert proof.best - proof.lower_bound <= max(0.01 * proof.best, 0.005) + 1e-9
    assert found.objective is not None
    drawn = np.random.default_rng(6).uniform([2.0, 2.0, 0.0], [28.0, 38.0, 180.0], (20_000, 3))
    at = found.best.placement
    near = np.random.default_rng(7).normal([at.east, at.north, at.bearing], [0.05, 0.05, 1.0], (4000, 3))
    for poses in (drawn, near):
        assert found.objective.values(poses).min() >= proof.lower_bound


@pytest.mark.parametrize("finish", [FinishLimit("fixed", 52.4), FinishLimit("flush")], ids=["fixed", "flush"])
def test_proof_closes_where_everything_is_given(finish: FinishLimit) -> None:
    """With position, bearing and finish given there is one placement: its value is the bound, soil short counted."""
    limits = replace(LIMITS, finish=finish, position=PositionLimit(9.0, 12.0), bearing=BearingLimit(fixed=30.0))
    found = find_banked_placement(
        YARDS["gentle"], PADS["mitred"], limits, GOALS["balance"], 0.9, effort=ProofEffort(work=1_000_000)
    )
    assert found.best.short > 0.5
    assert found.proof is not None
    assert found.proof.finished
    assert found.proof.lower_bound == pytest.approx(found.best.value, rel=0.01)


def test_what_stands_open_is_said_when_turf_counts() -> None:
    """Turf under the banks is no part of the bound: the gap stays, and the sentence says how much is not ruled out."""
    goal = Goal("cost", cut=0.5, fill=0.5, strip=20.0)
    effort = ProofEffort(work=2_000_000)
    found = find_banked_placement(YARDS["gentle"], PADS["mitred"], LIMITS, goal, 0.9, effort=effort)
    assert found.proof is not None
    assert not found.proof.finished
    assert "not ruled out" in found.proof.statement
    assert found.proof.lower_bound >= goal.strip * 0.05 * 17.5
