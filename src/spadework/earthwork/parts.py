"""The outline of a pad as convex parts: what the clipping needs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from spadework.errors import PlacementError
from spadework.readings import FloatArray, IntArray

__all__ = ["MOST_SIDES", "ConvexParts", "convex_parts"]

MOST_SIDES = 60
"""Sides of one part, so that the sides on which a corner lies fit in the bits of one number."""

STRAIGHT = 1e-12


@dataclass(frozen=True)
class ConvexParts:
    """Convex parts of a pad as half planes ``a u + b v <= c`` with unit normals, in the pad's frame.

    Parameters
    ----------
    sides : array, shape (s, 3)
        ``a``, ``b`` and ``c`` [m] of each side, part after part, in order round the part.
    corners : array, shape (s, 2)
        Where each side begins, ``u, v``. [m]
    outer : array of int, shape (s,)
        1 where the side is also a side of the outline, 0 where it only parts two parts.
    part : array of int, shape (p + 1,)
        Where the sides of each part begin.
    area : float
        Plan area of the outline. [m²]
    reach : float
        Distance of the corner farthest from the frame's origin. [m]
    """

    sides: FloatArray
    corners: FloatArray
    outer: IntArray
    part: IntArray
    area: float
    reach: float


def convex_parts(outline: FloatArray) -> ConvexParts:
    """Return an outline as convex parts.

    A convex outline is one part, any other is cut into triangles by its ears, which are joined again while they stay
    convex (S. Hertel and K. Mehlhorn, "Fast triangulation of simple polygons", 1983, from memory: never more than four
    times as many parts as there must be).

    Parameters
    ----------
    outline : array, shape (m, 2)
        Corners in the pad's frame, either way round, without repeating the first. [m]

    Returns
    -------
    ConvexParts

    Raises
    ------
    PlacementError
        If the outline has no area or crosses itself.
    """
    corners = np.asarray(outline, dtype=np.float64)
    return _convex_parts(corners.tobytes(), len(corners))


@lru_cache(maxsize=64)
def _convex_parts(raw: bytes, count: int) -> ConvexParts:
    corners = np.frombuffer(raw, dtype=np.float64).reshape(count, 2)
    ring = _cleaned(corners)
    if len(ring) < 3 or not np.isfinite(ring).all():
        raise PlacementError(
            f"The outline of the pad has no area: its corners are {corners.tolist()}. Correct the corners."
        )
    if _crosses_itself(ring):
        raise PlacementError(
            f"The outline of the pad crosses itself: its corners are {corners.tolist()}. Correct their order."
        )
    area = _area(ring)
    faces = (
        [list(range(len(ring)))] if (_turns(ring) > 0).all() and len(ring) <= MOST_SIDES else _joined(ring, _ears(ring))
    )
    sides, outer, part = [], [], [0]
    for face in faces:
        for here, there in zip(face, face[1:] + face[:1], strict=True):
            (u, v), (next_u, next_v) = ring[here], ring[there]
            length = math.hypot(next_u - u, next_v - v)
            a, b = (next_v - v) / length, (u - next_u) / length
            sides.append((a, b, a * u + b * v))
            outer.append(int((here + 1) % len(ring) == there))
        part.append(len(sides))
    return ConvexParts(
        _frozen(np.array(sides)),
        _frozen(ring[np.concatenate(faces)]),
        _frozen_int(np.array(outer)),
        _frozen_int(np.array(part)),
        area,
        float(np.hypot(*ring.T).max()),
    )


def _cleaned(corners: FloatArray) -> FloatArray:
    """Return the corners counter-clockwise in (u, v), without repeated corners and corners on a straight side."""
    ring = corners if _area(corners) > 0 else corners[::-1]
    size = float(np.ptp(ring, axis=0).max()) if len(ring) else 0.0
    while len(ring) > 2:
        before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
        length = np.hypot(*before.T) * np.hypot(*after.T)
        bend = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
        useless = np.flatnonzero(bend <= STRAIGHT * np.maximum(length, STRAIGHT * size**2))
        if not len(useless):
            break
        ring = np.delete(ring, useless[0], axis=0)
    return ring


def _area(ring: FloatArray) -> float:
    u, v = ring.T
    return 0.5 * float(np.dot(u, np.roll(v, -1)) - np.dot(v, np.roll(u, -1)))


def _turns(ring: FloatArray) -> FloatArray:
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turns: FloatArray = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return turns


def _crosses_itself(ring: FloatArray) -> bool:
    """Return whether two sides that are not neighbours meet."""
    start, end = ring, np.roll(ring, -1, axis=0)

    def left_of(points: FloatArray) -> FloatArray:
        along, to = (end - start)[:, None], points[None] - start[:, None]
        side: FloatArray = along[:, :, 0] * to[:, :, 1] - along[:, :, 1] * to[:, :, 0]
        return side

    parted = left_of(start) * left_of(end) <= 0
    # Sides on one line part each other everywhere: they meet only where they also overlap.
    low, high = np.minimum(start, end), np.maximum(start, end)
    overlap = ((low[:, None] <= high[None]) & (low[None] <= high[:, None])).all(axis=2)
    place = np.arange(len(ring))
    apart = (place[:, None] - place) % len(ring)
    others = (apart > 1) & (apart < len(ring) - 1)
    return bool((parted & parted.T & overlap & others).any())


def _ears(ring: FloatArray) -> list[list[int]]:
    """Cut triangles off a ring, each with no other corner inside (Meisters' ears)."""
    left = list(range(len(ring)))
    faces: list[list[int]] = []
    while len(left) > 3:
        for place in range(len(left)):
            face = [left[place - 1], left[place], left[(place + 1) % len(left)]]
            others = ring[[i for i in left if i not in face]]
            if _area(ring[face]) > 0 and not _any_inside(ring[face], others):
                faces.append(face)
                del left[place]
                break
        else:
            break
    return [*faces, left]


def _joined(ring: FloatArray, faces: list[list[int]]) -> list[list[int]]:
    """Join faces across the diagonals that part them, while what comes out is convex and has not too many sides.

    Each diagonal is asked once: joining others only makes the corners at its ends wider.
    """
    left = {number: list(face) for number, face in enumerate(faces)}
    side = {pair: number for number, face in left.items() for pair in _pairs(face)}
    for a, b in [pair for pair in side if pair[::-1] in side and pair[0] < pair[1]]:
        one, other = side[a, b], side[b, a]
        whole = _across(ring, left[one], left[other], a, b)
        if whole is not None:
            left[one] = whole
            del left[other], side[a, b], side[b, a]
            side.update((pair, one) for pair in _pairs(whole))
    return list(left.values())


def _pairs(face: list[int]) -> list[tuple[int, int]]:
    """Return the sides of a face by the corners at their ends."""
    return list(zip(face, face[1:] + face[:1], strict=True))


def _across(ring: FloatArray, one: list[int], other: list[int], a: int, b: int) -> list[int] | None:
    """Return two faces as one without their shared side from a to b, or ``None`` where that is not convex."""
    if len(one) + len(other) - 2 > MOST_SIDES:
        return None
    # From b round the first face to a, and on from a round the other one back to b.
    start, turn = one.index(b), other.index(a)
    rest = (other[turn:] + other[:turn])[1:]
    whole = one[start:] + one[:start] + rest[: rest.index(b)]
    corners = ring[whole]
    before, after = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
    bend = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    convex = (bend > STRAIGHT * np.hypot(*before.T) * np.hypot(*after.T)).all()
    return whole if convex else None


def _any_inside(face: FloatArray, points: FloatArray) -> bool:
    inside = np.ones(len(points), dtype=bool)
    for here, there in zip(face, np.roll(face, -1, axis=0), strict=True):
        along, to = there - here, points - here
        inside &= along[0] * to[:, 1] - along[1] * to[:, 0] >= 0
    return bool(inside.any())


def _frozen(array: FloatArray) -> FloatArray:
    array.setflags(write=False)
    return array


def _frozen_int(array: IntArray) -> IntArray:
    kept = array.astype(np.int64)
    kept.setflags(write=False)
    return kept
