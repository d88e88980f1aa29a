"""Boxes of the proof that hold no allowed placement: dropped where none does, kept wherever one does."""

from __future__ import annotations

import numpy as np
import pytest

from naive_placement import ground_of, random_yard
from spadework.pad import Pad
from spadework.pad_shapes import circle
from spadework.placement import GOALS, KeepOut, Limits, ProofEffort, find_placement
from spadework.placement.bound_rule import goal_rule
from spadework.placement.clearance import Clearance
from spadework.placement.limits import BoolArray
from spadework.placement.objective import Objective
from spadework.placement.proof import BoxTree
from spadework.readings import FloatArray

BALANCE = GOALS["balance"]
ANGLE = np.array([[0.0, 0.0], [5.0, 0.0], [5.0, 2.0], [2.0, 2.0], [2.0, 4.0], [0.0, 4.0]]) - [2.0, 1.6]
PADS = {"rectangle": Pad.rectangle(4.5, 3.0), "L": Pad(ANGLE[::-1]), "circle": Pad(circle(1.8), radius=1.8)}
POND = np.array([[14.0, 3.0], [19.0, 4.0], [18.0, 9.0], [13.0, 8.0]])
LAND = np.array([[0.5, 0.0], [23.0, 1.0], [24.0, 19.0], [1.0, 20.0]])
HOLE = np.array([[15.0, 10.0], [20.0, 10.5], [19.5, 17.0], [15.5, 16.0]])


def tree_of(pad: Pad, limits: Limits) -> BoxTree:
    """Return the boxes of a proof on a random yard."""
    ground = random_yard(4)
    clearance = Clearance.of(pad, limits, ground.outline(), ground.origin)
    objective = Objective(ground, pad, limits, BALANCE, 0.9, clearance)
    return BoxTree(objective, goal_rule(objective), ground.outline(), ProofEffort())


def kept(tree: BoxTree, poses: FloatArray, half: FloatArray) -> BoolArray:
    """Tell which boxes about poses, bearings in degrees, are kept."""
    centres = poses.copy()
    centres[:, :2] -= tree.objective.ground.origin
    centres[:, 2] = np.radians(centres[:, 2])
    return tree._may_be_clear(np.hstack([centres, half]))


@pytest.mark.parametrize("pad", PADS.values(), ids=PADS)
@pytest.mark.parametrize("setback", [0.0, 1.0])
def test_no_box_with_an_allowed_placement_is_dropped(pad: Pad, setback: float) -> None:
    """Twenty thousand boxes of every size, each with a placement somewhere in it that the exact test allows."""
    limits = Limits(boundary=(LAND, HOLE), setback=setback, keep_outs=(KeepOut.polygon("pond", POND, 0.6),))
    tree, random = tree_of(pad, limits), np.random.default_rng(7)
    poses = np.column_stack(
        [random.uniform(0, 24, 60_000), random.uniform(0, 20, 60_000), random.uniform(0, 360, 60_000)]
    )
    poses = poses[tree.objective.clearance.allowed(poses)][:20_000]
    assert len(poses) > 2_000
    half = 10.0 ** random.uniform(-4, 0.5, (len(poses), 1)) * random.uniform(0, 1, (len(poses), 3)) * [1.0, 1.0, 0.3]
    centres = poses + random.uniform(-1, 1, half.shape) * half * [1.0, 1.0, np.degrees(1.0)]
    assert kept(tree, centres, half).all()


@pytest.mark.parametrize("setback", [0.0, 1.0])
def test_pads_that_touch_the_land_from_without_are_dropped(setback: float) -> None:
    """A pad that lies along the fence on its outer side, or a hair over it, is far from any allowed placement."""
    square = np.array([[2.0, 2.0], [22.0, 2.0], [22.0, 18.0], [2.0, 18.0]])
    tree = tree_of(PADS["rectangle"], Limits(boundary=(square,), setback=setback))
    off = np.array([-1e-3, -1e-5, 0.0, 1e-5, 1e-3])
    poses = np.column_stack([np.full(5, 12.0), 2.0 - 1.5 + off, np.full(5, 90.0)])  # its short side runs north
    half = np.tile([2e-3, 2e-3, 1e-4], (5, 1))
    assert not kept(tree, poses, half).any()
    inside = poses + np.array([0.0, 3.0 + setback, 0.0])  # along the fence on its inner side
    assert kept(tree, inside, half).all()


def test_proof_ends_where_the_ground_beyond_the_land_would_be_cheaper() -> None:
    """A hill that levels out at the fence: pads beyond it would cost nothing, and the proof never ended.

    The hill is the pyramid ``level = 0.2 max(0, 6 - |e| - |n|)``, the land ``|e| + |n| <= 8`` and the setback 2 m:
    every pad allowed lies on the hill, and one in a corner of the ground, off the land, on the level.
    """
    axis = np.arange(-10.0, 10.1, 1.0)
    points = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1).reshape(-1, 2)
    ground = ground_of(points, 0.2 * np.maximum(0.0, 6.0 - np.abs(points).sum(axis=1)))
    fence = np.array([[-8.0, 0.0], [0.0, -8.0], [8.0, 0.0], [0.0, 8.0]])
    limits = Limits(boundary=(fence,), setback=2.0)
    result = find_placement(ground, Pad.rectangle(4.0, 3.0), limits, BALANCE, 1.0, effort=ProofEffort(work=3_000_000))
    assert result.proof is not None
    assert result.proof.finished
    assert result.proof.lower_bound > 0.9 * result.best.value > 0.0
