"""The ground as plane triangles, with what can be asked of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from spadework.errors import GroundError
from spadework.ground.index import BucketIndex, TriangleArray, build_index
from spadework.readings import FloatArray

__all__ = ["Ground", "MeanPlane"]

AnyArray = TypeVar("AnyArray", bound=npt.NDArray[Any])

POINTS_AT_A_TIME = 20_000
ON_THE_RIM = 1e-9
"""A point outside a triangle by no more than this share of it is still on it: rounding, not unmeasured ground."""


@dataclass(frozen=True, slots=True)
class MeanPlane:
    """The plane of least squares through the corners of the triangles.

    Parameters
    ----------
    slope : float
        Rise over run along the steepest line.
    aspect : float
        Bearing in which the plane falls, clockwise from site north. [deg]
    level : float
        Level of the plane at the middle of the corners. [m]
    rms : float
        Root mean square distance of the corners from the plane. [m]
    """

    slope: float
    aspect: float
    level: float
    rms: float


@dataclass(frozen=True, eq=False)
class Ground:
    """Plane triangles over the measured part of the site; outside them there is no ground.

    Coordinates are kept from an origin of whole metres near the middle, so that a site hundreds of kilometres from its
    grid's origin loses no digits.

    Parameters
    ----------
    origin : array, shape (2,)
        Site east and north of the local origin. [m]
    east, north : array, shape (n,)
        Local coordinates of the corners: site less origin. [m]
    level : array, shape (n,)
        Level of the corners. [m]
    triangles : array of int32, shape (t, 3)
        Corners of each triangle, counter-clockwise from above.
    kind : str
        ``"triangulated shots"`` or ``"raster"``.
    names : tuple of str, length n or 0
        Names of the corners.
    notices : tuple of str
        What was done to the shots, and what looks odd about them, as sentences for a person.
    kept : array of int32, shape (s, 2)
        Sides that breaklines ask for, as pairs of corners.
    shot_count : int, optional
        So many corners, the first ones, are shots; the others were drawn by lines and outlines. All where not given.
    """

    origin: FloatArray
    east: FloatArray
    north: FloatArray
    level: FloatArray
    triangles: TriangleArray
    kind: str
    names: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    kept: TriangleArray = field(default_factory=lambda: np.zeros((0, 2), dtype=np.int32))
    shot_count: int | None = None

    def __post_init__(self) -> None:
        if len(self.triangles) == 0:
            raise GroundError("There is no ground: no three points with levels make a triangle.")
        for name in ("origin", "east", "north", "level"):
            object.__setattr__(self, name, _frozen(np.asarray(getattr(self, name), dtype=np.float64)))
        object.__setattr__(self, "triangles", _frozen(np.asarray(self.triangles, dtype=np.int32)))
        object.__setattr__(self, "kept", _frozen(np.asarray(self.kept, dtype=np.int32)))

    def __str__(self) -> str:
        """Return one line: kind, points, triangles, extent and range of levels."""
        west, south, east, north = self.bounds
        return (
            f"{self.kind}: {self.size_words}, "
            f"{east - west:.1f} m by {north - south:.1f} m, levels {self.level.min():.3f} to {self.level.max():.3f} m"
        )

    @property
    def triangle_count(self) -> int:
        """Number of triangles."""
        return len(self.triangles)

    @property
    def size_words(self) -> str:
        """How many points and triangles: ``3 points, 1 triangle``."""
        count = self.triangle_count
        return f"{len(self.level)} points, {count} triangle{'' if count == 1 else 's'}"

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least east, least north, greatest east, greatest north, in site axes. [m]"""
        east, north = float(self.origin[0]), float(self.origin[1])
        return (
            east + float(self.east.min()),
            north + float(self.north.min()),
            east + float(self.east.max()),
            north + float(self.north.max()),
        )

    @cached_property
    def index(self) -> BucketIndex:
        """Buckets over the triangles, in local coordinates."""
        return build_index(self.east, self.north, self.triangles)

    @cached_property
    def datum(self) -> float:
        """A whole number of metres near the mean level, taken off before volumes are worked out. [m]"""
        return float(round(float(self.level.mean())))

    @cached_property
    def height(self) -> FloatArray:
        """Level of the corners above `datum`, shape (n,). [m]"""
        return _frozen(self.level - self.datum)

    @cached_property
    def area(self) -> float:
        """Plan area of all triangles. [m²]"""
        return float(self.triangle_areas.sum())

    @property
    def triangle_areas(self) -> FloatArray:
        """Plan area of each triangle, shape (t,). [m²]"""
        a, b, c = self.triangles.T
        areas: FloatArray = 0.5 * (
            (self.east[b] - self.east[a]) * (self.north[c] - self.north[a])
            - (self.east[c] - self.east[a]) * (self.north[b] - self.north[a])
        )
        return areas

    def level_at(self, points: FloatArray) -> FloatArray:
        """Return the level of the ground at points in site axes.

        Parameters
        ----------
        points : array, shape (k, 2)
            Site east and north. [m]

        Returns
        -------
        array, shape (k,)
            Level; NaN where there is no ground. [m]
        """
        local = np.atleast_2d(np.asarray(points, dtype=np.float64)) - self.origin
        parts = [self._level_at(local[i : i + POINTS_AT_A_TIME]) for i in range(0, len(local), POINTS_AT_A_TIME)]
        return np.concatenate(parts) if parts else np.zeros(0)

    def triangle_at(self, points: FloatArray) -> TriangleArray:
        """Return the triangle under each point in site axes, shape (k,); -1 where there is no ground.

        Parameters
        ----------
        points : array, shape (k, 2)
            Site east and north. [m]
        """
        local = np.atleast_2d(np.asarray(points, dtype=np.float64)) - self.origin
        owner, triangle, _ = self._under(local)
        found = np.full(len(local), -1, dtype=np.int32)
        found[owner] = triangle
        return found

    def shares_at(self, points: FloatArray) -> tuple[TriangleArray, FloatArray]:
        """Return the triangle under each point in site axes, and what part of each corner its level is.

        Parameters
        ----------
        points : array, shape (k, 2)
            Site east and north. [m]

        Returns
        -------
        triangle : array of int32, shape (k,)
            -1 where there is no ground.
        share : array, shape (k, 3)
            Sums to one; zero where there is no ground.
        """
        local = np.atleast_2d(np.asarray(points, dtype=np.float64)) - self.origin
        owner, triangle, share = self._under(local)
        found, parts = np.full(len(local), -1, dtype=np.int32), np.zeros((len(local), 3))
        found[owner] = triangle
        held = np.maximum(share, 0.0)
        parts[owner] = held / held.sum(axis=1, keepdims=True)
        return found, parts

    def _level_at(self, local: FloatArray) -> FloatArray:
        owner, triangle, share = self._under(local)
        held = np.maximum(share, 0.0)
        level = np.full(len(local), np.nan)
        level[owner] = (held * self.height[self.triangles[triangle]]).sum(axis=1) / held.sum(axis=1) + self.datum
        return level

    def _under(self, local: FloatArray) -> tuple[TriangleArray, TriangleArray, FloatArray]:
        """Return points, triangles and shares of corners; of several triangles the last is the one to take."""
        index = self.index
        bucket = index.row(local[:, 1]) * index.columns + index.column(local[:, 0])
        entry, owner = index.listed(bucket)
        triangle = entry // 4
        corner = self.triangles[triangle]
        east = self.east[corner] - local[owner, 0, None]
        north = self.north[corner] - local[owner, 1, None]
        # Twice the area opposite each corner, seen from the point: the weights of the corners.
        weight = np.roll(east, -1, 1) * np.roll(north, -2, 1) - np.roll(east, -2, 1) * np.roll(north, -1, 1)
        whole = weight.sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = weight / whole[:, None]
        inside = np.where(whole > 0, share.min(axis=1), -np.inf)
        hit = np.flatnonzero(inside >= -ON_THE_RIM)
        hit = hit[np.argsort(inside[hit], kind="stable")]
        return owner[hit].astype(np.int32), triangle[hit].astype(np.int32), share[hit]

    def mean_plane(self) -> MeanPlane:
        """Return the plane of least squares through the corners."""
        east, north = self.east - self.east.mean(), self.north - self.north.mean()
        height = self.height - self.height.mean()
        matrix = np.array([[east @ east, east @ north], [east @ north, north @ north]])
        rise_east, rise_north = np.linalg.solve(matrix, np.array([east @ height, north @ height]))
        rest = height - rise_east * east - rise_north * north
        return MeanPlane(
            slope=math.hypot(rise_east, rise_north),
            aspect=math.degrees(math.atan2(-rise_east, -rise_north)) % 360.0,
            level=float(self.level.mean()),
            rms=math.sqrt(float(rest @ rest) / len(rest)),
        )

    def outline(self) -> tuple[FloatArray, ...]:
        """Return the rim of the ground as rings in site axes, the largest first, holes clockwise.

        Returns
        -------
        tuple of array, shape (k, 2)
            East and north of each ring, without repeating the first point. [m]
        """
        from spadework.ground.lines import rim_rings  # noqa: PLC0415 -- only drawings need it

        return rim_rings(self.east, self.north, self.triangles, self.origin)

    def contours(self, step: float | Sequence[float] | FloatArray) -> list[tuple[float, FloatArray]]:
        """Return contour lines.

        Parameters
        ----------
        step : float or array, shape (k,)
            Contour interval (lines at its multiples), or the levels themselves. [m]

        Returns
        -------
        list of (float, array of shape (k, 2))
            Level and line in site axes, lowest first; a closed line repeats its first point. [m]
        """
        from spadework.ground.lines import contour_levels, contour_lines  # noqa: PLC0415 -- only drawings need it

        wanted = np.asarray(step, dtype=np.float64)
        levels = wanted if wanted.ndim else contour_levels(self.level, float(wanted))
        return contour_lines(self.east, self.north, self.level, self.triangles, self.origin, levels)


def local_origin(east: FloatArray, north: FloatArray) -> FloatArray:
    """Return whole metres near the middle of the points: taken off exactly, since both are binary fractions."""
    return np.array(
        [round((float(east.min()) + float(east.max())) / 2), round((float(north.min()) + float(north.max())) / 2)],
        dtype=np.float64,
    )


def _frozen(array: AnyArray) -> AnyArray:
    """Return the array contiguous and closed to writing, copied only if somebody else could still write to it."""
    kept: AnyArray = np.ascontiguousarray(array)  # type: ignore[assignment]
    if kept is array and array.flags.writeable:
        kept = array.view()
    kept.setflags(write=False)
    return kept
