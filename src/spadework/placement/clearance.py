"""Which poses stand clear of the boundary and of every keep-out, exactly.

The pad stays still in its own frame and the land is turned under it. A side of the land breaks a limit when it enters
the pad's interior or comes nearer than it may; a pad that no side enters can still lie wholly outside the boundary, or
wholly within a keep-out, so one inner point is tested as well, by counting crossings along a ray.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spadework.earthwork._compile import COMPILED
from spadework.pad import Pad
from spadework.placement.clearance_kernel import TOLERANCE, clear_kernel
from spadework.placement.clearance_numpy import clear_with_numpy
from spadework.placement.limits import BoolArray, Limits
from spadework.placement.pose_rules import PoseRules
from spadework.placement.shape import PadShape
from spadework.readings import FloatArray, IntArray

__all__ = ["TOLERANCE", "Clearance"]

STRAIGHT = 1e-12
"""Sine of the bend at a corner below which the rim runs straight on."""


@dataclass(frozen=True)
class Clearance:
    """The limits on position and bearing, laid out for the kernel.

    Parameters
    ----------
    shape : PadShape
        The pad.
    origin : array, shape (2,)
        Site position that the sides are counted from. [m]
    names : tuple of str, length l
        What each limit is called in a message.
    required : array, shape (l,)
        Least distance that each asks for. [m]
    inside : array of int, shape (l,)
        1 where the pad must lie within the rings, 0 where it must lie without.
    land : array, shape (s, 4)
        ``east, north`` of the two ends of every side, from the origin. [m]
    first_side : array of int, shape (l + 1,)
        First side of each limit.
    rules : PoseRules, optional
        Points to reach and to face, and bearings; `distances` and `required` have a column for each point as well: what
        is measured and what is allowed, both below zero.
    """

    shape: PadShape
    origin: FloatArray
    names: tuple[str, ...]
    required: FloatArray
    inside: IntArray
    land: FloatArray
    first_side: IntArray
    rules: PoseRules | None = None

    @classmethod
    def of(cls, pad: Pad, limits: Limits, outline: tuple[FloatArray, ...], origin: FloatArray) -> Clearance:
        """Lay out the limits of a search.

        Parameters
        ----------
        pad : Pad
            The pad.
        limits : Limits
            Boundary, setback and keep-outs.
        outline : tuple of arrays, shape (n, 2)
            Rings of the measured ground. [m]
        origin : array, shape (2,)
            A point near the site. [m]
        """
        outline = tuple(_straightened(ring) for ring in outline)
        groups: list[tuple[str, float, int, tuple[FloatArray, ...]]] = []
        if limits.boundary:
            groups.append(("the boundary", limits.setback, 1, limits.boundary))
            groups.append(("the measured ground", 0.0, 1, outline))
        else:
            groups.append(("the measured ground", limits.setback, 1, outline))
        groups += [(keep_out.name, keep_out.clearance, 0, keep_out.rings) for keep_out in limits.keep_outs]
        sides = [
            np.vstack([_ring_sides(np.asarray(ring, dtype=np.float64) - origin) for ring in rings])
            for _, _, _, rings in groups
        ]
        rules = PoseRules.of(pad, limits)
        return cls(
            shape=PadShape.of(pad),
            origin=np.asarray(origin, dtype=np.float64),
            names=(*(name for name, _, _, _ in groups), *rules.names),
            required=np.concatenate([[required for _, required, _, _ in groups], -rules.most]),
            inside=np.array([inside for _, _, inside, _ in groups], dtype=np.int64),
            land=np.ascontiguousarray(np.vstack(sides)),
            first_side=np.concatenate([[0], np.cumsum([len(part) for part in sides])]).astype(np.int64),
            rules=rules,
        )

    def distances(self, poses: FloatArray) -> FloatArray:
        """Return how far the pad is clear of each limit.

        Parameters
        ----------
        poses : array, shape (k, 3)
            ``east, north`` [m], ``bearing`` [deg].

        Returns
        -------
        array, shape (k, l)
            Distance from the pad to the limit's rings; below zero where it overlaps them or lies on the wrong side:
            then only a measure of how much, not a distance. [m] For a point to reach or to face, what is measured,
            below zero. [m, deg]
        """
        distance, _ = self._run(poses, every=True)
        return distance

    def room(self, poses: FloatArray) -> FloatArray:
        """Return the least room that any limit leaves: `distances` less what each asks for, shape (k,). [m, deg]"""
        least: FloatArray = (self.distances(poses) - self.required).min(axis=1)
        return least

    @property
    def rings(self) -> int:
        """How many of the limits are rings to keep clear of; the others are points to reach or to face."""
        return len(self.inside)

    def allowed(self, poses: FloatArray) -> BoolArray:
        """Tell which poses keep every limit, to `TOLERANCE`.

        Parameters
        ----------
        poses : array, shape (k, 3)
            ``east, north`` [m], ``bearing`` [deg].

        Returns
        -------
        array of bool, shape (k,)
        """
        _, allowed = self._run(poses, every=False)
        if self.rules is not None and not self.rules.bearing.free:
            allowed &= self.rules.bearing.off(np.atleast_2d(poses)[:, 2]) <= TOLERANCE
        return allowed

    def _run(self, poses: FloatArray, *, every: bool) -> tuple[FloatArray, BoolArray]:
        local = np.array(poses, dtype=np.float64, ndmin=2)
        local[:, :2] -= self.origin
        local[:, 2] = np.radians(local[:, 2])
        shape = self.shape
        count = self.rings
        distance = np.full((len(local), count), np.inf)
        allowed = np.ones(len(local), dtype=np.bool_)
        kernel = clear_kernel if COMPILED else clear_with_numpy
        kernel(
            local,
            self.land,
            self.first_side,
            self.inside,
            self.required[:count],
            shape.corners,
            shape.parts.sides,
            shape.parts.outer,
            shape.parts.part,
            shape.inner,
            shape.reach,
            shape.radius,
            every,
            distance,
            allowed,
        )
        if self.rules is None or not self.rules.names:
            return distance, allowed
        measured = -self.rules.measured(np.array(poses, dtype=np.float64, ndmin=2))
        allowed &= (measured >= self.required[count:] - TOLERANCE).all(axis=1)
        return np.hstack([distance, measured]), allowed


def _straightened(ring: FloatArray) -> FloatArray:
    """Return a ring without the corners at which it runs straight on: the rim of a raster has one for each cell."""
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    bend = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    turns = (bend > STRAIGHT * np.hypot(*before.T) * np.hypot(*after.T)) | ((before * after).sum(axis=1) <= 0)
    return ring[turns] if turns.sum() >= 3 else ring


def _ring_sides(ring: FloatArray) -> FloatArray:
    """Return the sides of a ring, or the one point of a circle as a side without length, as rows of four."""
    return np.hstack([ring, np.roll(ring, -1, axis=0)])
