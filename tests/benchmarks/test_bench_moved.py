"""Least barrowing: how many placements have to be worked out, and what bounds cost beside that, in one run.

Prints, for three yards, poses tried, transport problems solved and solved a second of processor time, the time of a
bound and of a value one after another, and how close the first moment and the prices found come to the true value. The
baseline is to work out every pose of the dense start. Times are never asserted; that no bound lies above the true value
is. Run with ``pytest tests/benchmarks/test_bench_moved.py -s``.
"""

from __future__ import annotations

import time

import numpy as np
import pytest

from naive_placement import random_yard
from spadework.factors import soil_factors
from spadework.haul import YardCarrier
from spadework.pad import Pad
from spadework.placement import GOALS, Limits, find_placement
from spadework.placement.carrying import Carrying
from spadework.placement.objective import Objective

SOIL = soil_factors("loam")
PAD = Pad.rectangle(4.5, 3.0)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [3, 4, 5])
def test_bounds_beside_working_out_every_pose(seed: int, shown: bool) -> None:
    """A search solves a small part of the problems that its poses ask, and its bounds stay below."""
    wide, high = (24.0, 20.0) if shown else (9.0, 8.0)
    ground = random_yard(seed, 60, (wide, high))
    carrier = YardCarrier(ground, Limits(), SOIL)
    began = time.process_time()
    found = find_placement(ground, PAD, Limits(), GOALS["moved"], SOIL, carrier=carrier)
    whole = time.process_time() - began
    objective = found.objective
    assert objective is not None
    assert objective.carrying is not None
    solved = len(objective.carrying.prices) // len(objective.carrying.images)
    random = np.random.default_rng(seed)
    poses = np.column_stack(
        [random.uniform(3, wide - 3, 60), random.uniform(3, high - 3, 60), random.uniform(0, 180, 60)]
    )
    began = time.process_time()
    close = objective.values(poses)
    bound = (time.process_time() - began) / len(poses)
    fresh = Objective(
        ground, PAD, Limits(), GOALS["moved"], objective.keep, objective.clearance, 0.0, Carrying.of(PAD, carrier)
    )
    moment = fresh.values(poses)
    began = time.process_time()
    true = fresh.true_values(poses)
    value = (time.process_time() - began) / len(poses)
    allowed = np.isfinite(true)
    assert (moment[allowed] <= true[allowed] * (1 + 1e-9)).all()
    assert (close[allowed] <= true[allowed] * (1 + 1e-9)).all()
    print(
        f"\nyard {seed}: {found.evaluated:,} poses tried, {solved} worked out (1 in {found.evaluated // solved}); "
        f"search {whole:.1f} s of processor time, every pose worked out would take {found.evaluated * value:.0f} s\n"
        f"  a value {1e3 * value:.2f} ms, a bound {1e3 * bound:.3f} ms (1 : {value / bound:.0f})\n"
        f"  of the value, median and least: first moment {np.median((moment / true)[allowed]):.3f} and "
        f"{(moment / true)[allowed].min():.3f}, prices found {np.median((close / true)[allowed]):.3f} and "
        f"{(close / true)[allowed].min():.3f}"
    )
