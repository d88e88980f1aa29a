"""Measure ``spadework scan`` on 10^8 cells: time and greatest memory of each run, as a process of its own.

    python tests/benchmarks/scan_large.py --size 10000 --folder /tmp/large

writes the raster of rough ground there, if it is not there yet, and prints a row for each case.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from terrain import write_terrain

CASES = (
    ("5.5 x 3.6 m, digging", ("--pad", "5.5 x 3.6 m")),
    ("12 x 8 m, digging", ("--pad", "12 x 8 m")),
    ("12 x 8 m, cut and fill", ("--pad", "12 x 8 m", "--weights", "1", "1")),
    ("24 x 16 m, digging", ("--pad", "24 x 16 m")),
)


def measured(raster: Path, options: tuple[str, ...]) -> tuple[float, float, dict[str, object]]:
    """Run a scan; return its seconds, its greatest memory [MB] and what it printed."""
    command = [sys.executable, "-m", "spadework.cli", "scan", str(raster), "--soil", "loam", "--json", *options]
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    printed = process.stdout.read() if process.stdout is not None else b""
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"{' '.join(command)} ended with status {status}")
    return time.perf_counter() - began, usage.ru_maxrss / 1024, json.loads(printed)


def main() -> None:
    """Make the raster and run the cases."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", type=int, default=10_000)
    parser.add_argument("--cell", type=float, default=1.0)
    parser.add_argument("--noise", type=float, default=0.0)
    parser.add_argument("--folder", type=Path, default=Path("/tmp"))  # noqa: S108 -- a large file that nobody keeps
    parser.add_argument("--cases", type=int, nargs="*", default=list(range(len(CASES))))
    asked = parser.parse_args()
    raster = asked.folder / f"rough-{asked.size}-{asked.cell:g}-{asked.noise:g}.tif"
    if not raster.exists():
        began = time.perf_counter()
        write_terrain(raster, asked.size, cell=asked.cell, noise=asked.noise)
        print(f"{raster} made in {time.perf_counter() - began:.0f} s")
    for number in asked.cases:
        name, options = CASES[number]
        seconds, memory, printed = measured(raster, options)
        least, most = printed["cells_under_pad"]
        rate = printed["candidates"] / seconds / 1e6
        print(
            f"{name:<24} {least}-{most} cells, {printed['candidates']:,} poses, {seconds:.0f} s in all, {rate:.0f} M "
            f"poses/s, {memory:.0f} MB at most, {printed['worked_out']:,} worked out, "
            f"least {printed['least_over_cells']:.4f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
