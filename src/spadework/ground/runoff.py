"""The way water runs over the ground: down the steepest slope, triangle by triangle, until it stands or leaves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from spadework.ground.surface import Ground
from spadework.readings import FloatArray, IntArray

__all__ = ["Runoff", "WaterWay"]

FLATTEST = 1e-9
"""Ground that falls less than this does not say where water runs."""
MOST_STEPS = 5_000

End = Literal["leaves", "stands"]


@dataclass(frozen=True, eq=False)
class WaterWay:
    """The way of water from a start.

    Parameters
    ----------
    places : array, shape (k, 2)
        East and north of the start, of every bend, and of the end, in site axes. [m]
    end : str
        ``"leaves"`` at the rim of the ground; ``"stands"`` in a hollow or on flat ground.
    """

    places: FloatArray
    end: End


@dataclass(frozen=True, eq=False)
class Runoff:
    """Steepest descent over the triangles of a ground.

    Inside a triangle water runs straight down its slope. Where two triangles lean together it runs along the side
    between them; from a corner it takes the steepest of the sides and slopes that begin there. Source: the surface of
    plane triangles as in S. Yu, M. van Kreveld and J. Snoeyink, "Drainage queries in TINs: from local to global and
    back again", *Advances in GIS research II* (1997).

    Parameters
    ----------
    ground : Ground
        The surface.
    """

    ground: Ground

    @cached_property
    def _fall(self) -> FloatArray:
        """Rise per metre eastwards and northwards of every triangle, turned downhill, shape (t, 2)."""
        a, b, c = (self._corner[:, i] for i in range(3))
        height = self.ground.height[self.ground.triangles]
        one, other = b - a, c - a
        double = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
        rise, rise2 = height[:, 1] - height[:, 0], height[:, 2] - height[:, 0]
        east = (rise * other[:, 1] - rise2 * one[:, 1]) / double
        north = (rise2 * one[:, 0] - rise * other[:, 0]) / double
        return -np.column_stack([east, north])

    @cached_property
    def _corner(self) -> FloatArray:
        places = np.column_stack([self.ground.east, self.ground.north])
        corner: FloatArray = places[self.ground.triangles]
        return corner

    @cached_property
    def _behind(self) -> IntArray:
        """Triangle behind each side (corner i to i + 1), -1 at the rim, shape (t, 3)."""
        triangles = self.ground.triangles.astype(np.int64)
        start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
        count = len(self.ground.level)
        there, back = start * count + end, end * count + start
        order = np.argsort(there)
        at = np.minimum(np.searchsorted(there, back, sorter=order), len(there) - 1)
        behind = np.where(there[order[at]] == back, order[at] // 3, -1)
        return behind.reshape(-1, 3)

    @cached_property
    def _around(self) -> list[list[int]]:
        """Triangles at each corner."""
        around: list[list[int]] = [[] for _ in self.ground.level]
        for number, corners in enumerate(self.ground.triangles.tolist()):
            for corner in corners:
                around[corner].append(number)
        return around

    def way(self, start: FloatArray) -> WaterWay:
        """Return the way of water from a place.

        Parameters
        ----------
        start : array, shape (2,)
            Site east and north. [m]

        Raises
        ------
        ValueError
            If there is no ground at the start.
        """
        triangle = int(self.ground.triangle_at(start)[0])
        if triangle < 0:
            raise ValueError(f"there is no ground at east {start[0]:.3f} m, north {start[1]:.3f} m")
        at = np.asarray(start, dtype=np.float64) - self.ground.origin
        places, end = self._run(at, triangle)
        return WaterWay(np.array(places) + self.ground.origin, end)

    def _run(self, at: FloatArray, triangle: int) -> tuple[list[FloatArray], End]:
        places = [at]
        corner = -1
        for _ in range(MOST_STEPS):
            if corner >= 0:
                corner, triangle = self._from_corner(corner)
                if corner < 0 and triangle < 0:
                    return places, "leaves" if self._at_rim[int(-triangle - 2)] else "stands"
                if corner >= 0:
                    places.append(self._place(corner))
                    continue
            if float(np.hypot(*self._fall[triangle])) < FLATTEST:
                return places, "stands"
            at, side = self._across(places[-1], triangle)
            places.append(at)
            behind = int(self._behind[triangle, side])
            if behind < 0:
                return places, "leaves"
            a, b = self._corner[triangle, side], self._corner[triangle, (side + 1) % 3]
            outward = np.array([b[1] - a[1], a[0] - b[0]])
            if float(self._fall[behind] @ outward) > 0:
                triangle = behind
                continue
            ends = [int(self.ground.triangles[triangle, i]) for i in (side, (side + 1) % 3)]
            corner = min(ends, key=lambda number: float(self.ground.height[number]))
            if self.ground.height[ends[0]] == self.ground.height[ends[1]]:
                return places, "stands"
            places.append(self._place(corner))
        return places, "stands"

    def _place(self, corner: int) -> FloatArray:
        return np.array([self.ground.east[corner], self.ground.north[corner]])

    @cached_property
    def _at_rim(self) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Whether each corner is at the rim."""
        rim = np.zeros(len(self.ground.level), dtype=bool)
        triangle, side = np.nonzero(self._behind < 0)
        rim[self.ground.triangles[triangle, side]] = True
        rim[self.ground.triangles[triangle, (side + 1) % 3]] = True
        return rim

    def _across(self, at: FloatArray, triangle: int) -> tuple[FloatArray, int]:
        """Return where water leaves a triangle that it enters at a place, and by which side."""
        fall = self._fall[triangle]
        best, by = np.inf, 0
        for side in range(3):
            a, b = self._corner[triangle, side], self._corner[triangle, (side + 1) % 3]
            outward = np.array([b[1] - a[1], a[0] - b[0]])
            speed = float(fall @ outward)
            if speed > 1e-15 * float(np.hypot(*outward)):
                time = max(float((a - at) @ outward) / speed, 0.0)
                if time < best:
                    best, by = time, side
        # Rounding must not carry the place beyond the ends of the side.
        a, b = self._corner[triangle, by], self._corner[triangle, (by + 1) % 3]
        share = float((at + best * fall - a) @ (b - a) / ((b - a) @ (b - a)))
        return a + min(max(share, 0.0), 1.0) * (b - a), by

    def _from_corner(self, corner: int) -> tuple[int, int]:
        """Return the next corner and -1, or -1 and the triangle down which water runs.

        Where it runs no further, -1 and minus the corner less 2.
        """
        steepest, to, down = FLATTEST, -1, -1
        here = self._place(corner)
        for triangle in self._around[corner]:
            place = self.ground.triangles[triangle].tolist().index(corner)
            one, other = (int(self.ground.triangles[triangle, (place + i) % 3]) for i in (1, 2))
            fall = self._fall[triangle]
            left, right = self._place(one) - here, self._place(other) - here
            slope = float(np.hypot(*fall))
            within = left[0] * fall[1] - left[1] * fall[0] > 0 and fall[0] * right[1] - fall[1] * right[0] > 0
            if within and slope > steepest:
                steepest, to, down = slope, -1, triangle
            for end, run in ((one, left), (other, right)):
                slope = float((self.ground.height[corner] - self.ground.height[end]) / np.hypot(*run))
                if slope > steepest:
                    steepest, to, down = slope, end, -1
        if to < 0 and down < 0:
            return -1, -corner - 2
        return to, down
