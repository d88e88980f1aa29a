"""Small yards with every kind of limit and shape: no allowed placement under the bound, worked out another way.

Run with ``python tests/studies/limits_on_small_yards.py 8 0``, yards and first seed. Prints a line for each kind:
yards, placements sampled and allowed, the least distance of a value above the bound, and how many proofs closed their
gap. The suite runs a short version: ``tests/test_placement_every_limit.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from limit_cases import CASES
from naive_placement import random_yard
from spadework.errors import PlacementError
from spadework.placement import ProofEffort, find_placement
from spadework.placement.check_proof import check_proof

SAMPLES = 200


def main() -> None:
    """Run the study on so many yards, from a seed on: ``python limits_on_small_yards.py 8 0``."""
    yards, first = (int(word) for word in sys.argv[1:3]) if len(sys.argv) > 2 else (8, 0)
    broken = 0
    print("kind                    yards  sampled  allowed  above the bound  closed")
    for name, (pad, goal, limits) in CASES.items():
        sampled = allowed = closed = made = 0
        above = np.inf
        for seed in range(first, first + yards):
            ground = random_yard(seed, 30)
            try:
                result = find_placement(ground, pad, limits, goal, 0.9, effort=ProofEffort(work=6_000_000))
            except PlacementError:
                continue
            if result.proof is None:
                continue
            check = check_proof(ground, pad, limits, goal, 0.9, result, samples=SAMPLES)
            made, sampled, allowed = made + 1, sampled + check.tried, allowed + check.allowed
            above = min(above, check.lowest - result.proof.lower_bound)
            closed += result.proof.finished
            if not check.holds:
                broken += 1
                print(f"{name}, yard {seed}: {check.sentence}")
        print(f"{name:<22} {made:6d} {sampled:8d} {allowed:8d} {above:16.4f} {closed:7d}")
    print(f"{broken} broken")
    sys.exit(broken > 0)


if __name__ == "__main__":
    main()
