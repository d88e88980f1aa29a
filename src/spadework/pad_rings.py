"""Rings of corners: their area and middle, and what is wrong with one."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, Source
from spadework.readings import FloatArray, IntArray

__all__ = ["BoolArray", "first_crossing", "middle_of_area", "not_finite", "ring_faults", "signed_area"]

BoolArray = npt.NDArray[np.bool_]


def not_finite(what: str, source: Source) -> Fault:
    """Return the fault of a number that is none."""
    return Fault(f"{what} is not a finite number", remedy="Give a number", source=source)


def middle_of_area(ring: FloatArray) -> FloatArray:
    """Return the centroid of a simple polygon, shape (2,).

    ``c = Σ (p_i + p_{i+1}) (p_i × p_{i+1}) / (6 A)``, about the first corner. [m]

    Parameters
    ----------
    ring : array, shape (m, 2)
        Corners in order, either way round. [m]
    """
    here = ring - ring[0]
    there = np.roll(here, -1, axis=0)
    cross = here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0]
    middle: FloatArray = ring[0] + ((here + there) * cross[:, None]).sum(axis=0) / (3.0 * cross.sum())
    return middle


def ring_faults(name: str, ring: FloatArray, source: Source) -> Iterable[Fault]:
    """Yield what is wrong with a ring of corners: too few, not finite, no area, a crossing.

    Parameters
    ----------
    name : str
        What it is called.
    ring : array, shape (n, 2)
        Corners in order. [m]
    source : Source
        Where it stands.
    """
    if ring.ndim != 2 or ring.shape[1:] != (2,) or len(ring) < 3:
        count = len(ring) if ring.ndim else 0
        yield Fault(
            f"{name} has {count} {'corner' if count == 1 else 'corners'}",
            rule="a ring has three corners or more",
            remedy="Name every corner in order, each once",
            source=source,
        )
        return
    if not np.all(np.isfinite(ring)):
        yield not_finite(f"a corner of {name}", source)
        return
    crossing = first_crossing(ring)
    if crossing is not None:
        one, other = crossing
        yield Fault(
            f"{name} crosses itself: side {one + 1} (from corner {one + 1}) meets side {other + 1}",
            rule="its corners are named in order round the outline",
            remedy="Put the corners in order, each once",
            source=source,
        )
    elif abs(signed_area(ring)) < 1e-9:
        yield Fault(
            f"{name} encloses no area",
            rule="its corners do not stand on one line",
            remedy="Check the corners",
            source=source,
        )


def signed_area(ring: FloatArray) -> float:
    """Return ½ Σ (e_i n_{i+1} - e_{i+1} n_i) about the first corner: positive when counter-clockwise. [m²]"""
    east, north = (ring - ring[0]).T
    return 0.5 * float(np.dot(east, np.roll(north, -1)) - np.dot(north, np.roll(east, -1)))


def first_crossing(ring: FloatArray) -> tuple[int, int] | None:
    """Return the first two sides of a ring that cross or touch away from a shared corner, or ``None``.

    Parameters
    ----------
    ring : array, shape (n, 2)
        Corners in order; side ``i`` runs from corner ``i`` to the next. [m]
    """
    local = ring - ring[0]
    start, end = local, np.roll(local, -1, axis=0)
    count = len(ring)
    for side in range(count - 1):
        others: IntArray = np.arange(side + 1, count, dtype=np.int64)
        shares = (others == side + 1) | ((others + 1) % count == side)
        met = _sides_meet(start[side], end[side], start[others], end[others])
        folds = shares & _folds_back(local, side, others)
        hit = np.flatnonzero((met & ~shares) | folds)
        if len(hit):
            return side, int(others[hit[0]])
    return None


def _sides_meet(start: FloatArray, end: FloatArray, starts: FloatArray, ends: FloatArray) -> BoolArray:
    """Tell which segments meet the segment from ``start`` to ``end``."""

    def side_of(a: FloatArray, b: FloatArray, p: FloatArray) -> FloatArray:
        along, to = b - a, p - a
        sign: FloatArray = np.sign(along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0])
        return sign

    apart = (np.maximum(starts, ends) < np.minimum(start, end)) | (np.minimum(starts, ends) > np.maximum(start, end))
    straddles = side_of(start, end, starts) * side_of(start, end, ends) <= 0
    straddled = side_of(starts, ends, start) * side_of(starts, ends, end) <= 0
    met: BoolArray = straddles & straddled & ~apart.any(axis=-1)
    return met


def _folds_back(ring: FloatArray, side: int, others: IntArray) -> BoolArray:
    """Tell which neighbours of a side run straight back over it, or have no length."""
    along = np.roll(ring, -1, axis=0) - ring
    one, other = along[side], along[others]
    cross = one[0] * other[:, 1] - one[1] * other[:, 0]
    dot = one[0] * other[:, 0] + one[1] * other[:, 1]
    scale = np.hypot(*one) * np.hypot(*other.T)
    folds: BoolArray = (np.abs(cross) <= 1e-12 * scale) & (dot <= 0)
    return folds
