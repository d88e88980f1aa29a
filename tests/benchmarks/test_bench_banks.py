"""Banks beside vertical sides in the same run: placements and boxes worked out in a second, as ratios."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from grounds import rough, scattered
from spadework.earthwork import LevelRule, pad_levels_batch
from spadework.earthwork._compile import COMPILED
from spadework.earthwork.bank_levels import banked_levels_batch
from spadework.pad import Edge, Pad

pytestmark = pytest.mark.skipif(not COMPILED, reason="nothing is compiled here")


def test_placements_with_banks_beside_vertical_sides() -> None:
    """Print how much longer a placement with banks takes than one without, by processor time, 200 shots."""
    ground = scattered(200, rough(3, sd=0.06), seed=3)
    bare = Pad.rectangle(5.0, 3.5, strip=0.05)
    poses = np.random.default_rng(0).uniform([6, 6, 0], [24, 34, 180], (4000, 3))
    rule = LevelRule("goal", keep=0.9, cut_weight=1.0, fill_weight=1.0)

    def seconds(pad: Pad) -> float:
        work = pad_levels_batch if pad.edge.retained else banked_levels_batch
        work(ground, pad, poses[:10], rule)
        began = time.process_time()
        work(ground, pad, poses, rule)
        return time.process_time() - began

    alone = seconds(bare)
    for corners in ("mitred", "round"):
        pad = replace(bare, edge=Edge("bank", "", 1 / 1.5, 1 / 2.0, corners))
        with_banks = seconds(pad)
        print(f"{corners}: {with_banks / alone:.1f} times as long as vertical sides")
        assert with_banks > 0
