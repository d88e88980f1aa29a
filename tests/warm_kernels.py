"""Use every slow kernel once on a small yard, which compiles it and keeps its machine code for all that come after.

Run by ``conftest.py``: ``python tests/warm_kernels.py proof`` and ``search``, side by side.
"""

from __future__ import annotations

import sys

import numpy as np

from grounds import rough, scattered
from spadework.pad import Pad
from spadework.placement import GOALS, KeepOut, Limits, find_placement, warm
from spadework.placement.raster_frame import Lattice
from spadework.placement.raster_search import scan_raster


def proof() -> None:
    """The bounds of the proof, the slowest of all."""
    warm.compile_kernels(["bounds", "bounds with edges"])


def search() -> None:
    """The search for a spot, the scan of a raster, and many grounds at once."""
    warm.compile_kernels(warm.FIRST_NEEDED)
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
