"""Use every slow kernel once on a small yard, which compiles it and keeps its machine code for all that come after.

Run by ``conftest.py``: ``python tests/warm_kernels.py proof`` and ``search``, side by side.
"""

from __future__ import annotations

import sys

import numpy as np

from grounds import rough, scattered
from naive_placement import random_yard
from spadework.earthwork.bank_cone import cone_side
from spadework.earthwork.bank_levels_kernel import solve_banked
from spadework.earthwork.cell_kernel import measure_cells
from spadework.factors import soil_factors
from spadework.haul import YardCarrier
from spadework.pad import Edge, Pad
from spadework.placement import GOALS, KeepOut, Limits, ProofEffort, find_banked_placement, find_placement, warm
from spadework.placement.banked_kernel import bound_banked
from spadework.placement.moved_kernel import swept_ground
from spadework.placement.raster_frame import Lattice
from spadework.placement.raster_search import scan_raster

QUICK = ProofEffort(work=1000)


def proof() -> None:
    """The bounds of the proof, the slowest of all."""
    warm.compile_kernels(["bounds", "bounds with edges"])
    if not all(map(warm.code_is_kept, (measure_cells, swept_ground))):
        soil = soil_factors("loam")
        ground, pad, limits = random_yard(1, 25, (7.0, 6.0)), Pad.rectangle(3.0, 2.0), Limits()
        carrier = YardCarrier(ground, limits, soil, 0.1)
        find_placement(ground, pad, limits, GOALS["moved"], soil, carrier=carrier, effort=QUICK)


def search() -> None:
    """The search for a spot, the scan of a raster, and many grounds at once."""
    warm.compile_kernels(warm.FIRST_NEEDED)
    if not all(map(warm.code_is_kept, (solve_banked, bound_banked, cone_side))):
        for corners in ("mitred", "round"):
            bank = Pad.rectangle(4.0, 3.0, edge=Edge("bank", "", 1 / 1.5, 1 / 2.0, corners))
            find_banked_placement(
                scattered(40, rough()), bank, Limits(), GOALS["digging"], soil_factors("loam"), effort=QUICK
            )
    pad, goal = Pad.rectangle(4.0, 3.0), GOALS["digging"]
    limits = Limits(keep_outs=(KeepOut.circle("tree", (5.0, 5.0), 1.0),), ground_slope=0.5)
    find_placement(scattered(40, rough()), pad, limits, goal, 0.9)
    levels = np.rint(np.random.default_rng(1).normal(0.0, 500.0, (60, 60))).astype(np.int32)
    lattice = Lattice(60, 60, (1.0, 0.0, 0.0, 0.0, -1.0, 60.0))
    scan_raster(
        lambda row, column, rows, columns: levels[row : row + rows, column : column + columns],
        lattice, pad, goal, 0.9, bearings=4, count=2,
    )  # fmt: skip


if __name__ == "__main__":
    {"proof": proof, "search": search}[sys.argv[1]]()
