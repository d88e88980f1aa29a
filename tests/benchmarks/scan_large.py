"""Measure ``spadework scan`` on a large raster: time and greatest memory of each run, as a process of its own.

    python tests/benchmarks/scan_large.py --size 10000 --folder /tmp/large
    python tests/benchmarks/scan_large.py --growth --folder /tmp/large

The first writes a raster of rough ground of 10,000 x 10,000 cells there, if it is not there yet, and prints a row for
each case; the second prints how time grows with cells, cells under the pad and bearings, each beside the row before.

Processor seconds are those of all threads and little disturbed by other work; seconds are not. The rate at which the
passes read levels and sums stands beside what one processor copies, in the same run, in memory (arrays of 400 MB) and
in its own cache (arrays of 128 kB), reading and writing counted: of memory the passes need little, the levels are
brought from it about once; what they read again and again lies in the cache.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from terrain import write_terrain

CASES = (
    ("5.5 x 3.6 m, digging", ("--pad", "5.5 x 3.6 m")),
    ("12 x 8 m, digging", ("--pad", "12 x 8 m")),
    ("12 x 8 m, cut and fill", ("--pad", "12 x 8 m", "--weights", "1", "1")),
    ("24 x 16 m, digging", ("--pad", "24 x 16 m")),
    ("40 x 30 m, digging", ("--pad", "40 x 30 m")),
)
PADS = ("3 x 2 m", "6 x 4 m", "12 x 8 m", "24 x 16 m", "48 x 32 m")
SIDES = (1000, 2000, 4000)
BEARINGS = (9, 18, 36, 72)
WIDTH = 4
"""Bytes of a level or a sum; eight where a cliff makes sums large."""


@dataclass(frozen=True)
class Run:
    """One run of the command: seconds, processor seconds, greatest memory [MB] and what it printed."""

    seconds: float
    processor: float
    memory: float
    printed: dict[str, Any]


def measured(raster: Path, options: tuple[str, ...]) -> Run:
    """Run a scan."""
    command = [sys.executable, "-m", "spadework.cli", "scan", str(raster), "--soil", "loam", "--json", *options]
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    printed = process.stdout.read() if process.stdout is not None else b""
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"{' '.join(command)} ended with status {status}")
    seconds = time.perf_counter() - began
    return Run(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, json.loads(printed))


def copying(size: int) -> float:
    """Return the bytes that one processor reads and writes in a second of its own by copying arrays of a size [B]."""
    source, target = np.ones(size // 8), np.zeros(size // 8)
    times = max(1, 400_000_000 // size)
    best = 0.0
    for _ in range(3):
        began = time.process_time()
        for _ in range(times):
            np.copyto(target, source)
        best = max(best, 2 * size * times / (time.process_time() - began))
    return best


def apart(function: Callable[..., Any], *given: Any, **named: Any) -> Any:
    """Return what a function returns in a process of its own: a run's greatest memory begins with that of this one."""
    with ProcessPoolExecutor(1) as pool:
        return pool.submit(function, *given, **named).result()


def raster_of(folder: Path, side: int, cell: float, noise: float) -> Path:
    """Return a raster of rough ground, made if it is not there."""
    raster = folder / f"rough-{side}-{cell:g}-{noise:g}.tif"
    if not raster.exists():
        apart(write_terrain, raster, side, cell=cell, noise=noise)
    return raster


def print_cases(raster: Path, cases: list[int]) -> None:
    """Print a row for each case."""
    memory, cache = apart(copying, 400_000_000), apart(copying, 131_072)
    print(f"one processor copies {memory / 1e9:.1f} GB/s in memory, {cache / 1e9:.0f} GB/s in its cache")
    for number in cases:
        name, options = CASES[number]
        run = measured(raster, options)
        printed = run.printed
        least, most = printed["cells_under_pad"]
        read = WIDTH * printed["numbers_read"] / run.processor
        levels = WIDTH * printed["positions"] / run.processor
        print(
            f"{name:<24} {least}-{most} cells, {printed['candidates']:,} poses, {run.seconds:.0f} s in all, "
            f"{run.processor:.0f} s of processors, {printed['candidates'] / run.seconds / 1e6:.0f} M poses/s, "
            f"{run.memory:.0f} MB at most, {printed['worked_out']:,} worked out, "
            f"least {printed['least_over_cells']:.4f};\n{'':<24} passes read {read / 1e9:.1f} GB/s a processor: "
            f"{read / cache:.0%} of copying in the cache, {read / memory:.1f} x copying in memory; "
            f"levels once {levels / memory:.2%} of memory",
            flush=True,
        )


def print_growth(folder: Path, cell: float, noise: float) -> None:
    """Print how processor time grows with each of cells, cells under the pad and bearings, the others kept."""
    plain = {"side": 2000, "pad": "12 x 8 m", "bearings": 36}
    tables = (
        ("cells", [plain | {"side": side} for side in SIDES], lambda run: run.printed["positions"]),
        ("cells under the pad", [plain | {"pad": pad} for pad in PADS], lambda run: run.printed["cells_under_pad"][1]),
        ("bearings", [plain | {"bearings": number} for number in BEARINGS], lambda run: len(run.printed["bearings"])),
    )
    nothing = raster_of(folder, 100, cell, noise)
    for name, rows, amount in tables:
        print(f"{name:>20} {'processor s':>12} {'x amount':>9} {'x time':>7} {'M poses/s':>10} of a processor")
        before = None
        for row in rows:
            options = ("--pad", row["pad"], "--bearings", str(row["bearings"]))
            # What a run takes besides the search: starting, loading, and the list worked out on the triangles.
            besides = measured(nothing, options).processor if row["pad"] != "48 x 32 m" else 0.0
            run = measured(raster_of(folder, row["side"], cell, noise), options)
            here = float(amount(run)), max(run.processor - besides, 0.01)
            ratios = ("", "") if before is None else (f"{here[0] / before[0]:.2f}", f"{here[1] / before[1]:.2f}")
            rate = run.printed["candidates"] / here[1] / 1e6
            print(f"{here[0]:>20,.0f} {here[1]:>12.2f} {ratios[0]:>9} {ratios[1]:>7} {rate:>10.0f}", flush=True)
            before = here


def main() -> None:
    """Make the raster and run the cases."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--size", type=int, default=10_000)
    parser.add_argument("--cell", type=float, default=1.0)
    parser.add_argument("--noise", type=float, default=0.0)
    parser.add_argument("--folder", type=Path, default=Path("/tmp"))  # noqa: S108 -- a large file that nobody keeps
    parser.add_argument("--cases", type=int, nargs="*", default=list(range(len(CASES))))
    parser.add_argument("--growth", action="store_true", help="how time grows, on smaller rasters")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    if asked.growth:
        print_growth(asked.folder, asked.cell, asked.noise)
    else:
        print_cases(raster_of(asked.folder, asked.size, asked.cell, asked.noise), asked.cases)


if __name__ == "__main__":
    main()
