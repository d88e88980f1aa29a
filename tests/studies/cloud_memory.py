"""Thin LAZ tiles of growing size in a stream, and print time and memory: ``python tests/studies/cloud_memory.py``.

A tile of so many points over a sloping yard of 200 by 200 m, with a house, trees and no classes, is written in pieces
and read in a process of its own, whose peak memory is that of the operating system. The largest tile has 10 million
points; other numbers may be given as arguments.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import laspy
import numpy as np

SIDE = 200.0
PIECE = 500_000


def tile_piece(count: int, seed: int) -> np.ndarray:
    """Return points over the yard, shape (count, 3): ground, one in four raised by a tree, and a house. [m]"""
    rng = np.random.default_rng(seed)
    east, north = rng.uniform(0, SIDE, (2, count))
    level = truth(east, north) + rng.normal(0, 0.02, count)
    house = (np.abs(east - 80) < 6) & (np.abs(north - 90) < 5)
    tree = ~house & (np.hypot((east - 10) % 25 - 12.5, (north - 10) % 25 - 12.5) < 4) & (rng.uniform(size=count) < 0.7)
    level += np.where(house, 4.0, 0.0) + np.where(tree, rng.uniform(1.0, 8.0, count), 0.0)
    return np.column_stack([east, north, level])


def truth(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    """Return the level of the bare ground. [m]"""
    return 50.0 + 0.06 * east - 0.03 * north + 0.8 * np.sin(east / 25.0) * np.cos(north / 30.0)


def write_tile(path: Path, count: int) -> None:
    """Write a tile of so many points in pieces."""
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales = np.full(3, 0.001)
    with laspy.open(path, mode="w", header=header) as writer:
        for start in range(0, count, PIECE):
            place = tile_piece(min(PIECE, count - start), start)
            record = laspy.ScaleAwarePointRecord.zeros(len(place), header=header)
            record.x, record.y, record.z = place.T
            writer.write_points(record)


def read_tile(path: Path) -> dict[str, float]:
    """Read a tile in this process and return figures of it."""
    from spadework.read.cloud import read_cloud  # noqa: PLC0415 - its import must not count as memory of the parent

    before = peak()
    start = time.perf_counter()
    cloud = read_cloud(path)
    seconds = time.perf_counter() - start
    off = cloud.level - truth(cloud.east, cloud.north)
    return {
        "seconds": seconds,
        "memory": peak(),
        "before": before,
        "kept": len(cloud),
        "spacing": cloud.spacing,
        "loss": cloud.loss,
        "rms": float(np.sqrt(np.mean(off**2))),
        "worst": float(np.abs(off).max()),
    }


def peak() -> float:
    """Return the greatest memory that this process has had. [MB]

    Linux counts what the parent had before the program was started into the usage of the process, so it is asked for
    the high-water mark of the program itself.
    """
    status = Path("/proc/self/status")
    if status.is_file():
        mark = next(line for line in status.read_text(encoding="ascii").splitlines() if line.startswith("VmHWM:"))
        return float(mark.split()[1]) / 1024.0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1024.0 if sys.platform != "darwin" else 1024.0**2)


def study(count: int, folder: Path) -> dict[str, float]:
    """Write a tile, and read it in a process of its own."""
    path = folder / f"{count}.laz"
    write_tile(path, count)
    done = subprocess.run([sys.executable, __file__, "--read", str(path)], capture_output=True, text=True, check=True)
    names, numbers = done.stdout.splitlines()
    return dict(zip(names.split(), map(float, numbers.split()), strict=True)) | {"bytes": path.stat().st_size}


def main(arguments: list[str]) -> None:
    """Print a row for each size."""
    if arguments[:1] == ["--read"]:
        figures = read_tile(Path(arguments[1]))
        print(*figures)
        print(*figures.values())
        return
    print("points       file MB  seconds  peak MB  kept    cell m  loss mm  off truth mm (rms, worst)")
    with tempfile.TemporaryDirectory() as folder:
        for count in [int(text) for text in arguments] or [100_000, 1_000_000, 10_000_000]:
            row = study(count, Path(folder))
            print(
                f"{count:<12,} {row['bytes'] / 1e6:7.1f}  {row['seconds']:7.1f}  {row['memory']:7.0f}  "
                f"{int(row['kept']):<6}  {row['spacing']:6.2f}  {row['loss'] * 1000:7.0f}  "
                f"{row['rms'] * 1000:4.0f}, {row['worst'] * 1000:.0f}",
                flush=True,
            )


if __name__ == "__main__":
    main(sys.argv[1:])
