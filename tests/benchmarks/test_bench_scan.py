"""The scan of a raster beside what anybody would write with numpy and scipy, on the same ground in one run.

Prints poses per second of the scan (all of the search for the best), of the mean level alone by a fast Fourier
transform, and of the full answer by sorting every window with numpy; how fast its passes read levels and sums, beside
copying in the cache and in memory; and growth with cells and with cells under the pad. Times are never asserted,
values are: the plain search finds nothing better. Run with ``pytest tests/benchmarks/test_bench_scan.py -s``; without
``-s`` smaller rasters assert the same.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest
from scan_large import WIDTH, copying
from scipy.signal import fftconvolve

from spadework.pad import Pad
from spadework.placement import GOALS
from spadework.placement.raster_frame import STEP, IntLevels, Lattice
from spadework.placement.raster_masks import pad_masks
from spadework.placement.raster_search import RasterScan, scan_raster
from terrain import fractal_levels

KEEP = 0.87
BEARINGS = 36


def ground(size: int, cell: float, noise: float = 0.0) -> tuple[IntLevels, Lattice]:
    """Rough ground as whole steps; with random errors of a standard deviation added. [m]"""
    levels = fractal_levels(0, 0, size, size, cell=cell)
    if noise:
        levels = 0.01 * levels + np.random.default_rng(1).normal(0.0, noise, levels.shape)
    return np.rint(levels / STEP).astype(np.int32), Lattice(size, size, (cell, 0.0, 0.0, 0.0, -cell, cell * size))


def run_scan(levels: IntLevels, lattice: Lattice, pad: Pad, **way: object) -> RasterScan:
    """Scan an array."""
    return scan_raster(
        lambda row, column, rows, columns: levels[row : row + rows, column : column + columns],
        lattice, pad, GOALS["digging"], KEEP, bearings=BEARINGS, count=20, **way,
    )  # fmt: skip


def _seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


@pytest.mark.slow
def test_scan_beside_numpy_and_scipy(*, shown: bool) -> None:
    """The plain search finds no better value; poses per second of each way are printed."""
    pad = Pad.rectangle(12.0, 8.0)
    levels, lattice = ground(1500 if shown else 300, 1.0)
    run_scan(levels[:200, :200], Lattice(200, 200, lattice.transform), pad)  # compiles
    scan = run_scan(levels, lattice, pad)
    masks = pad_masks(pad, lattice, [30.0])
    row, column = masks.under[0].cells()
    kernel = np.zeros((2 * masks.halo + 1, 2 * masks.halo + 1))
    kernel[row + masks.halo, column + masks.halo] = 1.0
    mean = _seconds(lambda: fftconvolve(levels.astype(np.float64), kernel, mode="same"))
    side = 120 if shown else 60
    part = levels[:side, :side]
    small = Lattice(side, side, lattice.transform)
    began = time.perf_counter()
    plain = run_scan(part, small, pad, use_compiled=False)
    plain_time = time.perf_counter() - began
    again = run_scan(part, small, pad)
    assert again.spots.value == pytest.approx(plain.spots.value, rel=1e-9)
    print(f"\n{scan.masks.fewest} to {scan.masks.most} cells under the pad, {BEARINGS} bearings")
    print(
        f"  scan                {scan.candidates / scan.seconds / 1e6:9.1f} M poses/s ({scan.worked_out:,} worked out)"
    )
    print(f"  mean level by FFT   {levels.size / mean / 1e6:9.1f} M poses/s (one bearing, no cut, no fill)")
    print(f"  numpy, all sorted   {plain.candidates / plain_time / 1e6:9.1f} M poses/s")
    read, cache, memory = (
        WIDTH * scan.numbers_read / scan.seconds,
        copying(131_072),
        copying(400_000_000 if shown else 4_000_000),
    )
    print(f"  its passes read {read / 1e9:.1f} GB/s: {read / cache:.0%} of what one thread copies in its cache")
    print(f"  levels are read once: {levels.nbytes / scan.seconds / memory:.1%} of what one thread copies in memory")


@pytest.mark.slow
def test_growth_of_the_scan(*, shown: bool) -> None:
    """Every scan has spots; time is printed for growing rasters, pads and for ground that is all noise."""
    run_scan(*ground(200, 1.0), Pad.rectangle(12.0, 8.0))
    size = 1000 if shown else 120
    rows = [
        (f"{size:,} x {size:,} cells", ground(size, 1.0), Pad.rectangle(12.0, 8.0)),
        (f"{2 * size:,} x {2 * size:,} cells", ground(2 * size, 1.0), Pad.rectangle(12.0, 8.0)),
        ("the same, pad 5.5 x 3.6 m", ground(2 * size, 1.0), Pad.rectangle(5.5, 3.6)),
        ("the same, pad 24 x 16 m", ground(2 * size, 1.0), Pad.rectangle(24.0, 16.0)),
        (f"{size:,} x {size:,}, flat with 3 cm of noise", ground(size, 1.0, 0.03), Pad.rectangle(12.0, 8.0)),
    ]
    print()
    for name, (levels, lattice), pad in rows:
        scan = run_scan(levels, lattice, pad)
        assert len(scan.spots) > 0
        print(
            f"  {name:<40} {scan.masks.most:4d} cells {scan.seconds:6.2f} s "
            f"{scan.candidates / scan.seconds / 1e6:7.1f} M poses/s, worked out {scan.worked_out:,}"
        )
