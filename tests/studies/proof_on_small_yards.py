"""A hundred small yards: the proved optimum against an exhaustive fine search of each, and bounds over random boxes.

Run with ``python tests/studies/proof_on_small_yards.py``. Prints a line for each yard that breaks a rule, and the sums.
The suite runs a short version: ``tests/test_placement_proof.py`` and ``tests/test_placement_bounds.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from naive_placement import random_yard
from spadework.pad import Pad
from spadework.placement import GOALS, Goal, Limits, ProofEffort, find_placement
from spadework.placement.clearance import Clearance
from spadework.placement.objective import Objective
from test_placement_bounds import bounds_and_least, random_boxes

YARDS = 100
BOXES, POSES = 60, 40
CHOICES = (
    (GOALS["wall"], 0.9),
    (Goal("edge and soil", cut=1.0, fill=0.5, over=0.5, short=4.0, wall=3.0), 0.9),
    (GOALS["digging"], 0.9),
    (GOALS["balance"], 0.9),
    (Goal("weights", cut=1.0, fill=2.0), 1.0),
    (Goal("mixed", cut=1.0, fill=0.5, over=0.3, short=2.0), 0.85),
)


def main() -> None:
    """Run the study."""
    broken, compared, gaps = 0, 0, []
    for seed in range(YARDS):
        random = np.random.default_rng(seed)
        goal, keep = CHOICES[seed % len(CHOICES)]
        wide, long = random.uniform(8, 13, 2)
        ground = random_yard(seed, int(random.integers(8, 80)), (wide, long))
        pad = Pad.rectangle(random.uniform(2.0, 4.0), random.uniform(1.5, 3.0))
        ring = np.array([[0.0, 0.0], [wide, 0.0], [wide, long], [0.0, long]]) + random.uniform(0, 0.5, (4, 2))
        limits = Limits(boundary=(ring,), setback=float(random.uniform(0, 0.5)))
        result = find_placement(ground, pad, limits, goal, keep, effort=ProofEffort())
        clearance = Clearance.of(pad, limits, ground.outline(), ground.origin)
        objective = Objective(ground, pad, limits, goal, keep, clearance)
        axes = np.arange(0, wide, 0.2), np.arange(0, long, 0.2), np.arange(0, 180, 4.0)
        poses = np.stack([axis.ravel() for axis in np.meshgrid(*axes)], axis=-1)
        least = objective.values(poses).min()
        proof = result.proof
        good = (
            proof is not None
            and proof.finished
            and proof.lower_bound <= least
            and result.best.value <= least + 1e-9
            and result.best.value - proof.lower_bound <= max(0.01 * result.best.value, 0.005) + 1e-9
        )
        boxes = random_boxes(random, BOXES, (wide, long))
        bounds, lowest = bounds_and_least(objective, boxes, POSES, random)
        seen = np.isfinite(lowest)
        above = (bounds[seen, 0] > lowest[seen] + 1e-12).sum()
        compared += int(seen.sum()) * POSES
        broken += (not good) + int(above)
        gaps.append(proof.gap if proof else np.nan)
        if not good or above:
            print(
                f"yard {seed}: best {result.best.value:.6f}, fine search {least:.6f}, {proof}, {above} bounds too high"
            )
    print(f"{YARDS} yards, {compared:,} poses under bounds: {broken} rules broken; largest gap {max(gaps):.4f}")


if __name__ == "__main__":
    main()
