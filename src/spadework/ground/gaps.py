"""Small gaps in a raster, filled from the cells around them, and said so; large ones stay without ground."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from spadework.readings import FloatArray, IntArray, RasterReading
from spadework.units import LengthUnit, format_length

__all__ = ["WIDEST_CELLS", "fill_gaps"]

WIDEST_CELLS = 3
"""Gaps no wider than so many cells are filled where the user says nothing: a judgement."""


def fill_gaps(
    raster: RasterReading, widest: float | None = None, *, unit: LengthUnit = LengthUnit.METRE
) -> RasterReading:
    """Return the raster with its small gaps filled by the level that the cells around them hold like a stretched skin.

    Each filled cell is the mean of its four neighbours (Laplace's equation on the lattice), so that a plane stays a
    plane to the last digit and nothing rises above or sinks below the cells around the gap.

    Parameters
    ----------
    raster : RasterReading
        NaN where it has no value.
    widest : float, optional
        Gaps as long or wide as this at most are filled; `WIDEST_CELLS` cells where not given, 0 fills none. [m]
    unit : LengthUnit
        The user's unit, for messages.

    Returns
    -------
    RasterReading
        With a note of what was filled. A gap that reaches the border of the window is never filled.
    """
    from scipy.ndimage import find_objects, label  # noqa: PLC0415 -- 0.3 s of import that only gaps need

    unknown = ~np.isfinite(raster.level)
    if not unknown.any() or unknown.all():
        return raster
    side = raster.cell if np.isfinite(raster.cell) else _cell(raster)
    if widest is None:
        widest = WIDEST_CELLS * side
    gap, count = label(unknown, structure=np.ones((3, 3)))
    level = raster.level.copy()
    filled, gaps = 0, 0
    rows, columns = level.shape
    for number, (down, across) in enumerate(find_objects(gap, max_label=count), 1):
        longest = max(down.stop - down.start, across.stop - across.start) * side
        inner = down.start > 0 and across.start > 0 and down.stop < rows and across.stop < columns
        if inner and longest <= widest * (1 + 1e-9):
            box = slice(down.start - 1, down.stop + 1), slice(across.start - 1, across.stop + 1)
            filled += _stretch(level[box], gap[box] == number)
            gaps += 1
    if not gaps:
        return raster
    note = (
        f"{gaps} gap{'s' if gaps > 1 else ''} of {filled} cell{'s' if filled > 1 else ''} without a value, none wider "
        f"than {format_length(widest, unit)}, {'were' if gaps > 1 else 'was'} filled from the cells around."
    )
    return replace(raster, level=level, note=(*raster.note, note))


def _cell(raster: RasterReading) -> float:
    """Return the longer side of a cell. [m]"""
    steps = [np.hypot(np.diff(raster.east, axis=axis), np.diff(raster.north, axis=axis)) for axis in (0, 1)]
    return max(float(np.median(step)) for step in steps if step.size)


def _stretch(level: FloatArray, gap: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> int:
    """Fill a gap in place, all of whose cells lie within the border of ``level``; return how many cells it has."""
    from scipy.sparse import coo_array  # noqa: PLC0415 -- as above
    from scipy.sparse.linalg import spsolve  # noqa: PLC0415 -- as above

    row, column = np.nonzero(gap)
    number: IntArray = np.full(gap.shape, -1)
    number[row, column] = np.arange(len(row))
    entries: list[tuple[int, int, float]] = []
    right = np.zeros(len(row))
    for i, (r, c) in enumerate(zip(row.tolist(), column.tolist(), strict=True)):
        around = [(r - 1, c), (r + 1, c), (r, c - 1), (r, c + 1)]
        known = [place for place in around if number[place] >= 0 or np.isfinite(level[place])]
        entries.append((i, i, float(len(known))))
        for place in known:
            if number[place] >= 0:
                entries.append((i, int(number[place]), -1.0))
            else:
                right[i] += level[place]
    here, there, value = zip(*entries, strict=True)
    matrix = coo_array((value, (here, there)), shape=(len(row), len(row))).tocsc()
    level[row, column] = spsolve(matrix, right)
    return len(row)
