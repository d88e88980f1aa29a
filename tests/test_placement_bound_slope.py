"""Boxes of placements on ground that is too steep: the bound on its slope, and the proof that uses it."""

from __future__ import annotations

import numpy as np
import pytest

from naive_placement import ground_of, random_yard
from spadework.earthwork.arrays import pad_arrays
from spadework.earthwork.parts import convex_parts
from spadework.earthwork.slopes import pad_slopes
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.placement import FinishLimit, Goal, Limits, ProofEffort, find_placement
from spadework.placement.boxes import slope_bounds
from spadework.placement.mesh import bound_mesh
from spadework.readings import FloatArray

PADS = {
    "rectangle": Pad.rectangle(4.5, 3.0),
    "L": Pad(np.array([[-2.0, -2.0], [2.0, -2.0], [2.0, 0.0], [0.0, 0.0], [0.0, 2.0], [-2.0, 2.0]])),
    "round": Pad(1.8 * np.column_stack([np.cos(np.arange(24) * np.pi / 12), -np.sin(np.arange(24) * np.pi / 12)])),
}


def bounds_of(ground: Ground, pad: Pad, boxes: FloatArray) -> FloatArray:
    """Return the bound on the slope in boxes, site east and north [m] and bearing [rad] first."""
    local = boxes.copy()
    local[:, :2] -= ground.origin
    parts = pad_arrays(convex_parts(pad.outline))
    return slope_bounds(bound_mesh(ground, 3 * parts.reach), parts, local)[:, 0]


@pytest.mark.parametrize("pad", PADS.values(), ids=PADS.keys())
def test_no_pose_of_a_box_has_less_slope(pad: Pad) -> None:
    """On random yards the slope under the pad, worked out by another kernel, is never below the bound of the box."""
    random = np.random.default_rng(3)
    met, said = 0, 0
    for seed in range(6):
        ground = random_yard(seed, 12 * (seed + 1))
        boxes = np.column_stack(
            [random.uniform(2, 22, 60), random.uniform(2, 18, 60), random.uniform(0, 2 * np.pi, 60),
             10 ** random.uniform(-2.5, 0.3, (60, 3)) * np.array([1.0, 1.0, 0.4])]
        )  # fmt: skip
        share = random.uniform(-1, 1, (60, 16, 3))
        share[:, :8] = np.sign(share[:, :8])
        poses = (boxes[:, None, :3] + share * boxes[:, None, 3:]).reshape(-1, 3)
        poses[:, 2] = np.degrees(poses[:, 2])
        slopes = pad_slopes(ground, pad, poses).reshape(60, 16)
        least = np.where(np.isnan(slopes), np.inf, slopes).min(axis=1)
        bounds = bounds_of(ground, pad, boxes)
        met, said = met + np.isfinite(least).sum(), said + (bounds > 0.5 * least).sum()
        assert (bounds <= least + 1e-9).all()
    assert met > 200
    assert said > 100


def test_on_a_plane_the_bound_is_its_slope() -> None:
    """3 in 100 and 4 in 100 make 5 in 100, however large the box."""
    points = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]])
    ground = ground_of(points, 100.0 + points @ np.array([0.03, 0.04]))
    boxes = np.array([[20.0, 20.0, 0.3, 1.0, 1.0, 0.2], [20.0, 20.0, 1.0, 4.0, 2.0, 3.0]])
    assert bounds_of(ground, PADS["rectangle"], boxes) == pytest.approx(0.05, abs=2e-9)


def test_bound_of_one_pose_is_its_slope() -> None:
    """With no width it is the slope there, to rounding."""
    random = np.random.default_rng(2)
    poses = np.column_stack([random.uniform(4, 20, 30), random.uniform(4, 16, 30), random.uniform(0, 360, 30)])
    boxes = np.column_stack([poses[:, :2], np.radians(poses[:, 2]), np.zeros((30, 3))])
    for pad in PADS.values():
        ground = random_yard(4, 40)
        slopes = pad_slopes(ground, pad, poses)
        assert bounds_of(ground, pad, boxes) == pytest.approx(slopes, abs=1e-6)


def test_proof_closes_where_the_slope_decides() -> None:
    """Ground level up to 20 m east, rising 1 in 5 from there; 1 in 10 is allowed: half of a pad may stand on the rise.

    A finish half a metre above the level part costs least where the ground is high. In closed form a square of 4 m
    with a side along the foot of the rise fills 8 m² by 0.5 m, and the other half by 0.5 m less a fifth of the way up;
    turned by an eighth of a turn its half on the rise lies 0.943 m up the slope on the mean, instead of 1 m.
    """
    points = np.array([[x, y] for x in (0.0, 20.0, 40.0) for y in (0.0, 40.0)])
    ground = ground_of(points, 100.0 + 0.2 * np.maximum(points[:, 0] - 20.0, 0.0))
    pad, goal = Pad.rectangle(4.0, 4.0), Goal("fill", cut=0.1, fill=1.0)
    limits = Limits(ground_slope=0.1, finish=FinishLimit("fixed", 100.5))
    found = find_placement(ground, pad, limits, goal, 1.0, effort=ProofEffort(share=0.02))
    best = 8.0 * 0.5 + 8.0 * (0.5 - 0.2 * 1.0)
    assert found.proof is not None
    assert found.proof.finished
    assert found.proof.lower_bound <= best + 1e-9
    assert found.best.value == pytest.approx(best, rel=0.02)
    assert found.best.placement.east == pytest.approx(20.0, abs=0.05)
    unlimited = find_placement(ground, pad, Limits(finish=limits.finish), goal, 1.0, effort=ProofEffort(share=0.02))
    assert unlimited.best.value < 0.5 * found.proof.lower_bound
