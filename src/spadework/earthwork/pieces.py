"""Ground cut out by pads, in numpy: what the kernel does when nothing can be compiled, and its twin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.earthwork.kernel import ON_EDGE
from spadework.earthwork.parts import ConvexParts, convex_parts
from spadework.ground.index import expand
from spadework.ground.surface import Ground
from spadework.pad import Pad
from spadework.readings import FloatArray, IntArray

__all__ = ["Pieces", "cut_out", "local_poses", "pad_pieces"]

NOWHERE = (1e18, 1e18, 0.0)


@dataclass(frozen=True)
class Pieces:
    """Triangles of ground under one pad or under many poses of it.

    Parameters
    ----------
    area : array, shape (p,)
        Plan area. [m²]
    height : array, shape (p, 3)
        Corners above `datum`, the highest first. [m]
    pose : array of int, shape (p,)
        Which pose each belongs to, rising.
    edge_low, edge_high : array, shape (k,)
        Lowest and highest ground along the outline, above `datum`. [m]
    datum : float
        Level from which heights count. [m]
    """

    area: FloatArray
    height: FloatArray
    pose: IntArray
    edge_low: FloatArray
    edge_high: FloatArray
    datum: float = 0.0

    @property
    def levels(self) -> FloatArray:
        """Level of the corners, the highest first, shape (p, 3). [m]"""
        return self.height + self.datum

    def __len__(self) -> int:
        return len(self.edge_low)

    def sum(self, values: FloatArray) -> FloatArray:
        """Add up a value of each piece for each pose, shape (k,)."""
        total: FloatArray = np.bincount(self.pose, weights=values, minlength=len(self)).astype(np.float64, copy=False)
        return total


def local_poses(ground: Ground, poses: FloatArray) -> FloatArray:
    """Return poses as the kernel wants them: local east and north, sine and cosine of the bearing.

    Parameters
    ----------
    ground : Ground
    poses : array, shape (k, 3)
        Site east, north [m] and bearing [deg] of the pad's origin.

    Returns
    -------
    array, shape (k, 4)
        Sine and cosine are exact at the quarter turns. A pose that is not finite is put where no ground is.
    """
    poses = np.asarray(poses, dtype=np.float64).reshape(-1, 3)
    poses = np.where(np.isfinite(poses).all(axis=1, keepdims=True), poses, NOWHERE)
    quarter = np.floor(poses[:, 2] / 90.0)
    angle = np.radians(poses[:, 2] - 90.0 * quarter)
    sine, cosine = np.sin(angle), np.cos(angle)
    turn = quarter.astype(np.int64) % 4
    return np.column_stack(
        [
            poses[:, :2] - ground.origin,
            np.choose(turn, [sine, cosine, -sine, -cosine]),
            np.choose(turn, [cosine, -sine, -cosine, sine]),
        ]
    )


def pad_pieces(ground: Ground, pad: Pad, poses: FloatArray) -> Pieces:
    """Return the ground under each pose of a pad.

    Parameters
    ----------
    ground : Ground
    pad : Pad
    poses : array, shape (k, 3)
        Site east, north [m] and bearing [deg].

    Returns
    -------
    Pieces
        Where part of a pad lies outside the ground, its pieces cover less than the pad.
    """
    return cut_out(ground, convex_parts(pad.outline), local_poses(ground, poses))


def cut_out(ground: Ground, parts: ConvexParts, poses: FloatArray) -> Pieces:
    """Clip triangles by the half planes of each part, all poses at once.

    Parameters
    ----------
    ground : Ground
    parts : ConvexParts
    poses : array, shape (k, 4)
        As `local_poses` gives them.
    """
    near = ON_EDGE * parts.reach
    areas, heights, owners = [], [], []
    edge_low, edge_high = np.full(len(poses), np.inf), np.full(len(poses), -np.inf)
    for first, last in zip(parts.part[:-1], parts.part[1:], strict=True):
        sides, outer = parts.sides[first:last], parts.outer[first:last].astype(bool)
        pose, triangle = _candidates(ground, parts.corners[first:last], poses, near)
        polygon = _in_frame(ground, triangle, poses[pose])
        count = np.full(len(pose), 3)
        on_side = np.zeros((*polygon.shape[:2], len(sides)), dtype=bool)
        for number, side in enumerate(sides):
            polygon, on_side, count, left = _clip(polygon, on_side, count, number, side, near)
            pose = pose[left]
        real = np.arange(polygon.shape[1]) < count[:, None]
        fan_area, fan_height, fan_owner = _fan(polygon, real)
        found = np.bincount(fan_owner, weights=fan_area, minlength=len(pose)) > 0
        at_edge = (on_side & outer).any(axis=2) & real & found[:, None]
        np.minimum.at(edge_low, pose, np.where(at_edge, polygon[:, :, 2], np.inf).min(axis=1, initial=np.inf))
        np.maximum.at(edge_high, pose, np.where(at_edge, polygon[:, :, 2], -np.inf).max(axis=1, initial=-np.inf))
        areas.append(fan_area)
        heights.append(fan_height)
        owners.append(pose[fan_owner])
    owner = np.concatenate(owners)
    order = np.argsort(owner, kind="stable")
    height = -np.sort(-np.concatenate(heights), axis=1)
    return Pieces(np.concatenate(areas)[order], height[order], owner[order], edge_low, edge_high, ground.datum)


def _candidates(ground: Ground, corners: FloatArray, poses: FloatArray, near: float) -> tuple[IntArray, IntArray]:
    """Return pairs of pose and triangle whose bounding boxes meet, each pair once."""
    u, v = corners.T
    east = poses[:, 0, None] + u * poses[:, 2, None] + v * poses[:, 3, None]
    north = poses[:, 1, None] + u * poses[:, 3, None] - v * poses[:, 2, None]
    west, rim_east = east.min(axis=1) - near, east.max(axis=1) + near
    south, rim_north = north.min(axis=1) - near, north.max(axis=1) + near
    index = ground.index
    column_from, column_to = index.column(west), index.column(rim_east)
    row_from, row_to = index.row(south), index.row(rim_north)
    wide = column_to - column_from + 1
    pose, place = expand(wide * (row_to - row_from + 1))
    column, row = column_from[pose] + place % wide[pose], row_from[pose] + place // wide[pose]
    bucket = row * index.columns + column
    entry, which = index.listed(bucket)
    pose, column, row = pose[which], column[which], row[which]
    once = ((entry & 1 > 0) | (column == column_from[pose])) & ((entry & 2 > 0) | (row == row_from[pose]))
    pose, triangle = pose[once], entry[once] // 4
    corner_east, corner_north = ground.east[ground.triangles[triangle]], ground.north[ground.triangles[triangle]]
    meets = (corner_east.min(axis=1) <= rim_east[pose]) & (corner_north.min(axis=1) <= rim_north[pose])
    meets &= (corner_east.max(axis=1) >= west[pose]) & (corner_north.max(axis=1) >= south[pose])
    return pose[meets], triangle[meets]


def _in_frame(ground: Ground, triangle: IntArray, pose: FloatArray) -> FloatArray:
    """Return the corners of triangles in the frame of each one's pose, shape (q, 3, 3): u, v, height."""
    corner = ground.triangles[triangle]
    east, north = ground.east[corner] - pose[:, 0, None], ground.north[corner] - pose[:, 1, None]
    sine, cosine = pose[:, 2, None], pose[:, 3, None]
    return np.stack([east * sine + north * cosine, east * cosine - north * sine, ground.height[corner]], axis=2)


def _clip(  # noqa: PLR0917 -- one step of a loop over sides
    polygon: FloatArray,
    on_side: npt.NDArray[np.bool_],
    count: IntArray,
    number: int,
    side: FloatArray,
    near: float,
) -> tuple[FloatArray, npt.NDArray[np.bool_], IntArray, IntArray]:
    """Keep what lies inside one half plane; return polygons, their sides, their corner counts, and the rows left."""
    size = polygon.shape[1]
    real = np.arange(size) < count[:, None]
    inside = side[2] - side[0] * polygon[:, :, 0] - side[1] * polygon[:, :, 1]
    on_side[:, :, number] |= np.abs(inside) <= near
    following = np.where(np.arange(size) + 1 < count[:, None], np.arange(size) + 1, 0)
    row = np.arange(len(polygon))[:, None]
    beyond = inside[row, following]
    kept = real & (inside >= 0)
    crossed = real & (((inside > 0) & (beyond < 0)) | ((inside < 0) & (beyond > 0)))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(crossed, inside / (inside - beyond), 0.0)
    met = polygon + share[:, :, None] * (polygon[row, following] - polygon)
    met_sides = on_side & on_side[row, following]
    met_sides[:, :, number] = True
    # Corner, crossing, corner, crossing, ...: what is kept moves to the front, in order.
    wanted = np.stack([kept, crossed], axis=2).reshape(len(polygon), 2 * size)
    made = wanted.sum(axis=1)
    left = np.flatnonzero(made >= 3)
    order = np.argsort(~wanted[left], axis=1, kind="stable")[:, : int(made.max(initial=3))]
    both = np.stack([polygon[left], met[left]], axis=2).reshape(len(left), 2 * size, 3)
    both_sides = np.stack([on_side[left], met_sides[left]], axis=2).reshape(len(left), 2 * size, on_side.shape[2])
    row = np.arange(len(left))[:, None]
    return both[row, order], both_sides[row, order], made[left], left


def _fan(polygon: FloatArray, real: npt.NDArray[np.bool_]) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return the triangles from the first corner of each polygon: area, three heights, row of the polygon."""
    first, one, two = polygon[:, :1], polygon[:, 1:-1], polygon[:, 2:]
    area = 0.5 * (
        (two[:, :, 0] - first[:, :, 0]) * (one[:, :, 1] - first[:, :, 1])
        - (one[:, :, 0] - first[:, :, 0]) * (two[:, :, 1] - first[:, :, 1])
    )
    row, place = np.nonzero(real[:, 2:] & (area > 0))
    height = np.column_stack([first[row, 0, 2], one[row, place, 2], two[row, place, 2]])
    return area[row, place], height, row
