"""The first use of the kernels on a machine: they are compiled in processes of their own while the site is read.

Compiling takes seconds and is done once; the machine code is kept. Two threads cannot compile at the same time, two
processes can. What is needed first is compiled first, and what a goal does not need is not compiled.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np

from spadework.earthwork import LevelRule, many_grounds, pad_levels_batch
from spadework.earthwork import kernel as level_kernel
from spadework.earthwork._compile import COMPILED
from spadework.earthwork.arrays import pad_arrays
from spadework.earthwork.bank_levels import banked_levels_batch
from spadework.earthwork.bank_levels_kernel import solve_banked
from spadework.earthwork.parts import convex_parts
from spadework.ground import Ground
from spadework.pad import Edge, Pad
from spadework.placement import banked_kernel, bound_kernel, bound_plain, bound_slope, clearance_kernel
from spadework.placement.clearance import Clearance
from spadework.placement.limits import Limits

__all__ = ["await_kernels", "bounds_for", "compile_kernels", "is_kept", "start_bounds", "start_compiling"]

LONGEST = 120.0
"""Longest wait for another process; after that the kernel is compiled here. [s]"""
LOOK_AGAIN = 0.01
"""Time between two looks whether a kernel is kept. [s]"""
FIRST_NEEDED = ("clearance", "levels", "grounds")
"""What every plan needs, in the order in which it does."""

_running: dict[str, subprocess.Popen[bytes]] = {}
"""The process that compiles each kernel."""


def _small_ground() -> Ground:
    east, north = np.array([0.0, 9.0, 9.0, 0.0]), np.array([0.0, 0.0, 9.0, 9.0])
    return Ground(np.zeros(2), east, north, east * 0.1, np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32), "none")


def _compile_clearance() -> None:
    """Test one pose of a pad."""
    ground, pad = _small_ground(), Pad.rectangle(2.0, 1.0)
    Clearance.of(pad, Limits(), ground.outline(), ground.origin).allowed(np.array([[4.0, 4.0, 0.0]]))


def _compile_levels() -> None:
    """Find the level of one pose."""
    pad_levels_batch(_small_ground(), Pad.rectangle(2.0, 1.0), np.array([[4.0, 4.0, 0.0]]), LevelRule("balanced"))


def _banked() -> Pad:
    """Return a small pad with banks."""
    return Pad.rectangle(2.0, 1.0, edge=Edge("bank", "", 0.5, 0.5))


def _compile_banked_levels() -> None:
    """Find the level of one pose with banks."""
    rule = LevelRule("goal", keep=1.0, cut_weight=1.0, fill_weight=1.0)
    banked_levels_batch(_small_ground(), _banked(), np.array([[4.0, 4.0, 0.0]]), rule)


def _bound_a_banked_box() -> None:
    """Bound one box of a pad with banks on the smallest ground."""
    from spadework.placement.banked_objective import BankedObjective, land_of  # noqa: PLC0415 -- imports this module
    from spadework.placement.banked_proof import BankedTree  # noqa: PLC0415 -- imports this module
    from spadework.placement.goals import GOALS  # noqa: PLC0415 -- only here
    from spadework.placement.proof import ProofEffort  # noqa: PLC0415 -- imports this module

    ground, pad, limits = _small_ground(), _banked(), Limits()
    outline = ground.outline()
    clearance = Clearance.of(pad, limits, outline, ground.origin)
    land = land_of(ground, limits)
    objective = BankedObjective(ground, pad, limits, GOALS["digging"], 1.0, clearance, land=land)
    BankedTree(objective, outline, ProofEffort()).dual(np.array([[4.0, 4.0, 0.0, 0.1, 0.1, 0.1]]))


def _compile_grounds() -> None:
    """Work out one pose on one ground of four points."""
    points = many_grounds.PadPoints(np.zeros((1, 2)), np.ones(1), np.zeros((1, 2)))
    grounds = many_grounds.ManyGrounds(0.0, 0.0, 1.0, 2, 2, np.zeros((4, 1)))
    rule = LevelRule("balanced")
    grounds.work_out(points, np.full((1, 3), 0.5), np.zeros(1, np.int64), 1, rule, thickness=0.0, strip=0.0)


def _bound_a_box(*, plain: bool) -> None:
    """Bound one box on the smallest ground."""
    from spadework.placement.boxes import box_bounds  # noqa: PLC0415 -- the same
    from spadework.placement.mesh import bound_mesh  # noqa: PLC0415 -- what follows needs scipy, reading does not

    parts = pad_arrays(convex_parts(Pad.rectangle(2.0, 1.0).outline))
    rule = np.array([1.0, 1.0, 1.0, -1.0, 1.0, *[0.0] * 8, -np.inf, np.inf, np.inf, np.inf, np.inf, 1.0, np.inf])
    if not plain:
        rule[-3] = 9.0
    box_bounds(bound_mesh(_small_ground(), 3.0), parts, np.array([[4.0, 4.0, 0.0, 0.1, 0.1, 0.1]]), rule)


def _bound_a_slope() -> None:
    """Bound the slope in one box on the smallest ground."""
    from spadework.placement.boxes import slope_bounds  # noqa: PLC0415 -- the same
    from spadework.placement.mesh import bound_mesh  # noqa: PLC0415 -- what follows needs scipy, reading does not

    parts = pad_arrays(convex_parts(Pad.rectangle(2.0, 1.0).outline))
    slope_bounds(bound_mesh(_small_ground(), 3.0), parts, np.array([[4.0, 4.0, 0.0, 0.1, 0.1, 0.1]]))


KERNELS: dict[str, tuple[Any, Callable[[], None]]] = {
    "clearance": (clearance_kernel.clear_kernel, _compile_clearance),
    "levels": (level_kernel.solve, _compile_levels),
    "grounds": (many_grounds.solve_many, _compile_grounds),
    "bounds": (bound_plain.bound_plain, lambda: _bound_a_box(plain=True)),
    "bounds with edges": (bound_kernel.bound_boxes, lambda: _bound_a_box(plain=False)),
    "slopes": (bound_slope.least_slopes, _bound_a_slope),
    "levels of banks": (solve_banked, _compile_banked_levels),
    "bounds of banks": (banked_kernel.bound_banked, _bound_a_banked_box),
}
"""Each kernel, and the smallest use of it that the rest of the program makes: that compiles it for the right types."""


def is_kept(name: str) -> bool:
    """Tell whether machine code of a kernel lies where numba keeps it, or nothing can be compiled at all.

    Code that is older than its module is not kept: numba makes it anew.
    """
    return not COMPILED or code_is_kept(KERNELS[name][0])


def code_is_kept(kernel: Any) -> bool:
    """Tell whether machine code of a compiled function lies where numba keeps it."""
    folder = getattr(getattr(kernel, "_cache", None), "cache_path", None)
    if folder is None:
        return False
    source = Path(kernel.py_func.__code__.co_filename)
    stem = f"{source.stem}.{kernel.py_func.__name__}-"
    try:
        made = [path.stat().st_mtime for path in Path(folder).glob(f"{stem}*.nbc")]
        return bool(made) and max(made) >= source.stat().st_mtime
    except OSError:  # taken away while one looks
        return False


def compile_kernels(names: Iterable[str]) -> None:
    """Compile kernels one after the other, which keeps them."""
    for name in names:
        KERNELS[name][1]()


def bounds_for(wall: float, finish: str) -> str:
    """Return the name of the bounds that a proof needs first.

    Parameters
    ----------
    wall : float
        Weight of the height of the edge in the goal.
    finish : str
        How the finish goes, as in `FinishLimit`.
    """
    return "bounds" if wall == 0.0 and finish in {"free", "fixed"} else "bounds with edges"


def start_bounds(pad: Pad, wall: float, finish: str, *, sloped: bool = False) -> None:
    """Start to compile what search and proof of a pad need besides what every plan does.

    Parameters
    ----------
    pad : Pad
        With banks their levels, in a process of their own, for the search needs them first.
    wall, finish
        As in `bounds_for`.
    sloped : bool, optional
        Whether the slope of the ground is limited.
    """
    slopes = ["slopes"] if sloped else []
    if pad.edge.retained:
        start_compiling([bounds_for(wall, finish), *slopes])
        return
    start_compiling(["levels of banks"])
    start_compiling(["bounds", "bounds of banks", *slopes])


def start_compiling(names: Iterable[str] = FIRST_NEEDED) -> bool:
    """Start a process that compiles those of the kernels that are not kept yet; say whether one was started.

    It does not collect garbage, which took a tenth of the time of compiling where it was measured, and lives for
    seconds only.
    """
    missing = [name for name in names if name not in _running and not is_kept(name)]
    if not missing:
        return False
    words = f"import gc; gc.disable(); from spadework.placement.warm import compile_kernels; compile_kernels({missing})"
    command = [sys.executable, "-c", words]
    try:
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # noqa: S603 -- our own interpreter, fixed words
    except OSError:  # no process to be had: it is compiled here when it is needed
        return False
    _running.update(dict.fromkeys(missing, process))
    return True


def await_kernels(*names: str) -> None:
    """Wait until kernels that a process was started for are kept, or that process has ended."""
    until = time.monotonic() + LONGEST
    for name in names:
        process = _running.get(name)
        while process is not None and process.poll() is None and not is_kept(name):
            if time.monotonic() > until:
                process.kill()
                process.wait()
                break
            time.sleep(LOOK_AGAIN)
        _running.pop(name, None)
