"""The first use of the slow kernels on a machine: they are compiled in processes of their own while the site is read.

Compiling takes seconds and is done once; the machine code is kept. Two threads cannot compile at the same time, two
processes can.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np

from spadework.earthwork import LevelRule, many_grounds
from spadework.earthwork._compile import COMPILED
from spadework.earthwork.arrays import pad_arrays
from spadework.earthwork.parts import convex_parts
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.placement import bound_kernel

__all__ = [
    "await_bounds",
    "await_grounds",
    "bounds_are_kept",
    "compile_bounds",
    "compile_grounds",
    "grounds_are_kept",
    "start_compiling",
]

LONGEST = 120.0
"""Longest wait for the other process; after that the kernel is compiled here. [s]"""

_running: list[subprocess.Popen[bytes]] = []
_grounds: list[subprocess.Popen[bytes]] = []


def bounds_are_kept() -> bool:
    """Tell whether machine code of the bounds lies beside the module, or nothing can be compiled at all."""
    if not COMPILED:
        return True
    kept = getattr(getattr(bound_kernel.bound_boxes, "_cache", None), "cache_path", None)
    return kept is not None and any(Path(kept).glob("bound_kernel.bound_boxes-*.nbi"))


def compile_bounds() -> None:
    """Bound one box on the smallest ground, which compiles the kernel and keeps it."""
    from spadework.placement.mesh import bound_mesh  # noqa: PLC0415 -- what follows needs scipy, reading does not
    from spadework.placement.proof import box_bounds  # noqa: PLC0415 -- the same

    east, north = np.array([0.0, 9.0, 9.0, 0.0]), np.array([0.0, 0.0, 9.0, 9.0])
    ground = Ground(np.zeros(2), east, north, east * 0.1, np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32), "none")
    parts = pad_arrays(convex_parts(Pad.rectangle(2.0, 1.0).outline))
    rule = np.array([1.0, 1.0, 1.0, -1.0, 1.0, *[0.0] * 8, -np.inf, np.inf, np.inf, np.inf, np.inf])
    box_bounds(bound_mesh(ground, 3.0), parts, np.array([[4.0, 4.0, 0.0, 0.1, 0.1, 0.1]]), rule)


def grounds_are_kept() -> bool:
    """Tell whether machine code for many grounds lies beside its module, or nothing can be compiled at all."""
    if not COMPILED:
        return True
    kept = getattr(getattr(many_grounds.solve_many, "_cache", None), "cache_path", None)
    return kept is not None and any(Path(kept).glob("many_grounds.solve_many-*.nbi"))


def compile_grounds() -> None:
    """Work out one pose on one ground of four points, which compiles the kernel and keeps it."""
    points = many_grounds.PadPoints(np.zeros((1, 2)), np.ones(1), np.zeros((1, 2)))
    grounds = many_grounds.ManyGrounds(0.0, 0.0, 1.0, 2, 2, np.zeros((4, 1)))
    rule = LevelRule("balanced")
    grounds.work_out(points, np.full((1, 3), 0.5), np.zeros(1, np.int64), 1, rule, thickness=0.0, strip=0.0)


def start_compiling() -> bool:
    """Start compiling in other processes what no machine code is kept of; say whether the bounds are among it."""
    if not (grounds_are_kept() or _grounds):
        _start("compile_grounds", _grounds)
    return not (bounds_are_kept() or _running) and _start("compile_bounds", _running)


def _start(function: str, running: list[subprocess.Popen[bytes]]) -> bool:
    """Start a process that calls a function of this module, and say whether it could be.

    It does not collect garbage, which took a tenth of the time of compiling where it was measured, and lives for
    seconds only.
    """
    words = f"import gc; gc.disable(); from spadework.placement.warm import {function}; {function}()"
    command = [sys.executable, "-c", words]
    try:
        running.append(subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL))  # noqa: S603 -- our own interpreter, fixed words
    except OSError:  # no process to be had: it is compiled here when it is needed
        return False
    return True


def await_bounds() -> None:
    """Wait until the process for the bounds has ended, if one was started."""
    _await(_running)


def await_grounds() -> None:
    """Wait until the process for many grounds has ended, if one was started."""
    _await(_grounds)


def _await(running: list[subprocess.Popen[bytes]]) -> None:
    while running:
        process = running.pop()
        try:
            process.wait(LONGEST)
        except subprocess.TimeoutExpired:
            process.kill()
