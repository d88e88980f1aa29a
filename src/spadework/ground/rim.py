"""The outline that the shots support: sides of the rim that lie far from every shot are peeled off."""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from spadework.ground.clipping import only_corners
from spadework.ground.index import TriangleArray
from spadework.ground.sides import is_kept
from spadework.ground.surface import Ground
from spadework.readings import FloatArray
from spadework.units import LengthUnit, format_area, format_length

__all__ = ["REACH_KEY", "far_sides", "longest_link", "rim_sides", "supported", "within_reach"]

REACH_KEY = "[ground] reach"
"""Key of the site file that sets it: a notice that names it says what was left out at the rim."""
TIMES_LINK = 1.5
"""Ground is trusted so many times as far from a shot as the longest link of the shots. Of 2,400 yards with shots at
random the rim of none was farther from them than 1.47 times; in a notch of an L it is two times or more."""
TIMES_USUAL = 4.0
"""A side of the rim so many times as long as the usual distance between shots is worth a word: a judgement."""
THIN = 0.1
"""A triangle whose height over its side of the rim is less than this share of that side is long and thin."""
SIXTEENTHS = np.linspace(0.0, 1.0, 17)
MOST_NAMED = 3


def longest_link(ground: Ground) -> float:
    """Return the longest link of the shortest network that joins all corners of a ground. [m]

    It is how far one must go at most from one shot to the next to come by them all: the spacing of a grid, the distance
    of cross-sections, and no less where some shots stand close together.

    Parameters
    ----------
    ground : Ground
        Triangulated shots.
    """
    from scipy.sparse import coo_matrix  # noqa: PLC0415 -- 0.1 s of import that reading a level book does not need
    from scipy.sparse.csgraph import minimum_spanning_tree  # noqa: PLC0415 -- the same

    sides = np.concatenate([ground.triangles[:, [0, 1]], ground.triangles[:, [1, 2]], ground.triangles[:, [2, 0]]])
    sides = np.unique(np.sort(sides, axis=1), axis=0)
    count = len(ground.level)
    graph = coo_matrix((_lengths(ground, sides), (sides[:, 0], sides[:, 1])), shape=(count, count))
    return float(minimum_spanning_tree(graph).data.max())


def supported(ground: Ground, *, fenced: bool = False, unit: LengthUnit = LengthUnit.METRE) -> Ground:
    """Return the ground as far as its own shots support it, with a notice of what was left out.

    It reaches one and a half times the longest link of the shots from them, see `longest_link` and `within_reach`.
    Long thin triangles along the rim, whose ground rests on two shots far apart, are left out as well, unless a
    boundary says that the yard goes on to there. Of a grid, of cross-sections and of shots scattered evenly nothing is
    left out.

    Parameters
    ----------
    ground : Ground
        Triangulated shots.
    fenced : bool
        Whether a boundary says where the yard ends.
    unit : LengthUnit
        The user's unit, for the notice.
    """
    link = longest_link(ground)
    thin = math.inf if fenced else TIMES_USUAL * link
    left, names = _peeled(ground, TIMES_LINK * link, thin, unit)
    if left is ground:
        return ground
    count = ground.triangle_count - left.triangle_count
    words = (
        f"{_triangles(count)} at the rim, {format_area(ground.area - left.area, unit)}, left out: no shot supports the "
        f"ground {names}. Ground is trusted as far as {format_length(TIMES_LINK * link, unit)} from a shot, one and a "
        f"half times the longest step from shot to shot ({format_length(link, unit)})"
        f"{'' if fenced else ', and not in long thin triangles along the rim'}. [ground] reach sets that distance, and "
        f'"none" keeps everything between the shots.'
    )
    return replace(left, notices=(*left.notices, words))


def within_reach(ground: Ground, reach: float, *, unit: LengthUnit = LengthUnit.METRE) -> Ground:
    """Return the ground without triangles at the rim that reach farther from the shots than they can be trusted.

    A side of the rim goes where a place on it, asked at each sixteenth, is farther than the reach from every shot, the
    longest first, and its triangle with it; the two sides behind it are then at the rim. It stays if its triangle's
    third corner is at the rim already, so that no shot is lost and the ground stays in one piece, and if a breakline
    runs along it. Source of the peeling: M. Duckham, L. Kulik, M. Worboys and A. Galton, "Efficient generation of
    simple polygons for characterizing the shape of a set of points in the plane", *Pattern Recognition* 41 (2008).

    Parameters
    ----------
    ground : Ground
        Triangulated shots.
    reach : float
        How far from a shot the ground is trusted. [m]
    unit : LengthUnit
        The user's unit, for the notice.

    Returns
    -------
    Ground
        With a notice of what was left out.
    """
    left, names = _peeled(ground, reach, math.inf, unit)
    if left is ground:
        return ground
    count = ground.triangle_count - left.triangle_count
    sentence = (
        f"{_triangles(count)} at the rim, {format_area(ground.area - left.area, unit)}, reached farther than "
        f"{format_length(reach, unit)} from the shots: no ground {names}, as [ground] reach says."
    )
    return replace(left, notices=(*left.notices, sentence))


def far_sides(ground: Ground, *, unit: LengthUnit = LengthUnit.METRE) -> tuple[str, ...]:
    """Return a sentence about long thin triangles at the rim, whose ground rests on shots far apart, or none.

    Parameters
    ----------
    ground : Ground
        Triangulated shots.
    unit : LengthUnit
        The user's unit.
    """
    ends, owner = rim_sides(ground.triangles, len(ground.level))
    length = _lengths(ground, ends)
    height = 2 * ground.triangle_areas[owner] / length
    usual = math.sqrt(ground.area / len(ground.level))
    far = (length > TIMES_USUAL * usual) & (height < THIN * length)
    if len(ground.kept):
        far &= ~is_kept(len(ground.level), ends, ground.kept)
    if not far.any():
        return ()
    count = int(far.sum())
    worst = int(np.argmax(np.where(far, length, 0.0)))
    sentence = (
        f"{count} long thin triangle{'s' if count > 1 else ''} along the rim: "
        f"{_between(ground, *ends[worst].tolist())}, {format_length(float(length[worst]), unit)}, no shot lies on the "
        f"edge of the ground, where shots are usually {format_length(usual, unit)} apart. [ground] reach says how far "
        "from a shot the ground is trusted."
    )
    return (sentence,)


def _peeled(ground: Ground, reach: float, thin: float, unit: LengthUnit) -> tuple[Ground, str]:
    """Return the ground without what lies beyond the reach, and where that was, in words.

    ``thin`` is the length from which a side with a flat triangle behind it goes as well.
    """
    ends, owner = rim_sides(ground.triangles, len(ground.level))
    far = _Far(ground, reach, thin)
    beyond = far.beyond(ends, owner)
    if not beyond.any():
        return ground, ""
    sides_of = _sides(ground.triangles)
    kept = {(min(pair), max(pair)) for pair in ground.kept.tolist()}
    at_rim = set(ends.ravel().tolist())
    there = np.ones(len(ground.triangles), dtype=bool)
    length = _lengths(ground, ends)
    heap = [(-float(length[i]), *ends[i].tolist(), int(owner[i])) for i in np.flatnonzero(beyond)]
    first = {(a, b) for _, a, b, _ in heap}
    gone: list[tuple[int, int]] = []
    heapq.heapify(heap)
    while heap:
        _, a, b, triangle = heapq.heappop(heap)
        apex = int(next(corner for corner in ground.triangles[triangle].tolist() if corner not in {a, b}))
        if apex in at_rim or (min(a, b), max(a, b)) in kept:
            continue
        there[triangle] = False
        at_rim.add(apex)
        if (a, b) in first:
            gone.append((a, b))
        behind = [
            (one, other, t)
            for one, other in ((a, apex), (apex, b))
            for t in sides_of[min(one, other), max(one, other)]
            if there[t]
        ]
        if behind:
            pairs = np.array([side[:2] for side in behind], dtype=np.int32)
            again = far.beyond(pairs, np.array([t for *_, t in behind], dtype=np.int32))
            for side, gap, goes in zip(behind, _lengths(ground, pairs).tolist(), again.tolist(), strict=True):
                if goes:
                    heapq.heappush(heap, (-gap, *side))
    if there.all():
        return ground, ""
    return only_corners(ground, ground.triangles[there]), _where(ground, gone, unit)


class _Far:
    """Says which sides lie too far from every corner of a ground, or have a long thin triangle behind them."""

    def __init__(self, ground: Ground, reach: float, thin: float) -> None:
        from scipy.spatial import cKDTree  # noqa: PLC0415 -- 0.3 s of import that reading a level book does not need

        self.ground, self.reach, self.thin = ground, reach, thin
        self.places = _places(ground)
        self.area = ground.triangle_areas
        self.tree = cKDTree(self.places)

    def beyond(self, ends: TriangleArray, owner: TriangleArray) -> npt.NDArray[np.bool_]:
        """Say which sides go, shape (s,), by their ends, shape (s, 2), and the triangles behind them, shape (s,)."""
        start, end = self.places[ends[:, 0], None], self.places[ends[:, 1], None]
        along = start + SIXTEENTHS[:, None] * (end - start)
        away = np.asarray(self.tree.query(along.reshape(-1, 2))[0]).reshape(len(ends), -1).max(axis=1)
        length = _lengths(self.ground, ends)
        thin = (length > self.thin) & (2 * self.area[owner] < THIN * length**2)
        found: npt.NDArray[np.bool_] = (away > self.reach * (1 + 1e-9)) | thin
        return found


def _where(ground: Ground, gone: Iterable[tuple[int, int]], unit: LengthUnit) -> str:
    """Return the sides of the rim that went, the longest first, in words."""
    sides = np.array(list(gone), dtype=np.int32).reshape(-1, 2)
    length = _lengths(ground, sides)
    order = np.argsort(-length, kind="stable")
    said = [f"{_between(ground, *sides[i].tolist())} ({format_length(float(length[i]), unit)})" for i in order]
    more = len(said) - MOST_NAMED
    return "; ".join(said[:MOST_NAMED]) + (f"; and at {more} more side{'s' if more > 1 else ''}" if more > 0 else "")


def _between(ground: Ground, a: int, b: int) -> str:
    one, other = (ground.names[i] if ground.names and ground.names[i] else "a drawn corner" for i in (a, b))
    return f"from {one} to {other}"


def _triangles(count: int) -> str:
    return f"{count} triangle{'s' if count > 1 else ''}"


def _lengths(ground: Ground, sides: TriangleArray) -> FloatArray:
    """Return the plan length of sides given by their corners, shape (s,). [m]"""
    a, b = sides.T
    length: FloatArray = np.hypot(ground.east[a] - ground.east[b], ground.north[a] - ground.north[b])
    return length


def _places(ground: Ground) -> FloatArray:
    return np.column_stack([ground.east, ground.north])


def _sides(triangles: TriangleArray) -> dict[tuple[int, int], list[int]]:
    """Return the triangles on either hand of every side."""
    found: dict[tuple[int, int], list[int]] = {}
    for number, (a, b, c) in enumerate(triangles.tolist()):
        for one, other in ((a, b), (b, c), (c, a)):
            found.setdefault((min(one, other), max(one, other)), []).append(number)
    return found


def rim_sides(triangles: TriangleArray, count: int) -> tuple[TriangleArray, TriangleArray]:
    """Return the sides that belong to one triangle only, shape (s, 2), and that triangle, shape (s,)."""
    ends = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    owner = np.tile(np.arange(len(triangles), dtype=np.int32), 3)
    key = ends.min(axis=1).astype(np.int64) * count + ends.max(axis=1)
    _, first, times = np.unique(key, return_index=True, return_counts=True)
    alone = first[times == 1]
    return ends[alone], owner[alone]
