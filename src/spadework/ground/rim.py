"""The outline that the shots support: long sides of the rim, with no shot near their middle, are peeled off."""

from __future__ import annotations

import heapq
import math
from dataclasses import replace

import numpy as np

from spadework.ground.clipping import only_corners
from spadework.ground.index import TriangleArray
from spadework.ground.sides import is_kept
from spadework.ground.surface import Ground
from spadework.readings import FloatArray

__all__ = ["far_sides", "within_reach"]

TIMES_USUAL = 4.0
"""A side of the rim so many times as long as the usual distance between shots is worth a word: a judgement."""
THIN = 0.1
"""A triangle whose height over its side of the rim is less than this share of that side is long and thin."""


def within_reach(ground: Ground, reach: float) -> Ground:
    """Return the ground without triangles at the rim that reach farther from the shots than they can be trusted.

    The middle of a side is half its length from the shots at its ends, so a side of the rim longer than twice the
    reach goes, the longest first, and its triangle with it; the two sides behind it are then at the rim. It stays if
    its triangle's third corner is at the rim already, so that no shot is lost and the ground stays in one piece, and
    if a breakline runs along it. Source: M. Duckham, L. Kulik, M. Worboys and A. Galton, "Efficient generation of
    simple polygons for characterizing the shape of a set of points in the plane", *Pattern Recognition* 41 (2008).

    Parameters
    ----------
    ground : Ground
        Triangulated shots.
    reach : float
        How far from a shot the ground is trusted. [m]

    Returns
    -------
    Ground
        With a notice of what was left out.
    """
    ends, owner = _rim(ground.triangles, len(ground.level))
    sides_of = _sides(ground.triangles)
    kept = {tuple(sorted(pair)) for pair in ground.kept.tolist()}
    at_rim = set(ends.ravel().tolist())
    there = np.ones(len(ground.triangles), dtype=bool)

    def length(a: int, b: int) -> float:
        return math.hypot(float(ground.east[a] - ground.east[b]), float(ground.north[a] - ground.north[b]))

    heap = [(-length(a, b), a, b, t) for (a, b), t in zip(ends.tolist(), owner.tolist(), strict=True)]
    heapq.heapify(heap)
    while heap and -heap[0][0] > 2 * reach:
        _, a, b, triangle = heapq.heappop(heap)
        apex = int(next(corner for corner in ground.triangles[triangle].tolist() if corner not in {a, b}))
        if apex in at_rim or (min(a, b), max(a, b)) in kept:
            continue
        there[triangle] = False
        at_rim.add(apex)
        for one, other in ((a, apex), (apex, b)):
            behind = [t for t in sides_of[min(one, other), max(one, other)] if there[t]]
            if behind:
                heapq.heappush(heap, (-length(one, other), one, other, behind[0]))
    if there.all():
        return ground
    left = only_corners(ground, ground.triangles[there])
    count, area = int((~there).sum()), ground.area - left.area
    sentence = (
        f"{count} triangle{'s' if count > 1 else ''} at the rim, {area:.1f} m², reached farther than {reach:.2f} m "
        "from the shots: no ground there, as [ground] reach says."
    )
    return replace(left, notices=(*left.notices, sentence))


def far_sides(ground: Ground) -> tuple[str, ...]:
    """Return a sentence about long thin triangles at the rim, whose ground rests on shots far apart, or none.

    Parameters
    ----------
    ground : Ground
        Triangulated shots.
    """
    ends, owner = _rim(ground.triangles, len(ground.level))
    length = np.hypot(*(_places(ground)[ends[:, 0]] - _places(ground)[ends[:, 1]]).T)
    height = 2 * ground.triangle_areas[owner] / length
    usual = math.sqrt(ground.area / len(ground.level))
    far = (length > TIMES_USUAL * usual) & (height < THIN * length)
    if len(ground.kept):
        far &= ~is_kept(len(ground.level), ends, ground.kept)
    if not far.any():
        return ()
    count = int(far.sum())
    worst = int(np.argmax(np.where(far, length, 0.0)))
    a, b = (ground.names[i] if ground.names and ground.names[i] else "a drawn corner" for i in ends[worst].tolist())
    sentence = (
        f"{count} long thin triangle{'s' if count > 1 else ''} along the rim: from {a} to {b}, {length[worst]:.2f} m, "
        f"no shot lies on the edge of the ground, where shots are usually {usual:.2f} m apart. "
        f'[ground] reach = "{_round_up(2 * usual):g} m" would leave out what lies farther from a shot than that.'
    )
    return (sentence,)


def _round_up(value: float) -> float:
    """Return the next of 1, 2, 5, 10, ... [m]"""
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= value * (1 - 1e-9))


def _places(ground: Ground) -> FloatArray:
    return np.column_stack([ground.east, ground.north])


def _sides(triangles: TriangleArray) -> dict[tuple[int, int], list[int]]:
    """Return the triangles on either hand of every side."""
    found: dict[tuple[int, int], list[int]] = {}
    for number, (a, b, c) in enumerate(triangles.tolist()):
        for one, other in ((a, b), (b, c), (c, a)):
            found.setdefault((min(one, other), max(one, other)), []).append(number)
    return found


def _rim(triangles: TriangleArray, count: int) -> tuple[TriangleArray, TriangleArray]:
    """Return the sides that belong to one triangle only, shape (s, 2), and that triangle, shape (s,)."""
    ends = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    owner = np.tile(np.arange(len(triangles), dtype=np.int32), 3)
    key = ends.min(axis=1).astype(np.int64) * count + ends.max(axis=1)
    _, first, times = np.unique(key, return_index=True, return_counts=True)
    alone = first[times == 1]
    return ends[alone], owner[alone]
