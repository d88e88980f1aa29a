"""What a pose must keep besides boundary and keep-outs: points to stay near to, points to face, bearings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spadework.earthwork._compile import COMPILED
from spadework.errors import Fault, InputError, Source
from spadework.pad import Pad
from spadework.placement.limits import BearingLimit, BoolArray, FacingLimit, Limits, ReachLimit
from spadework.placement.pose_kernel import FACE, FARTHEST, MIDDLE, NEAREST, pose_kernel
from spadework.placement.pose_numpy import poses_with_numpy
from spadework.readings import FloatArray, IntArray

__all__ = ["PoseRules", "side_of"]

KINDS = {"nearest": NEAREST, "middle": MIDDLE, "farthest": FARTHEST}


@dataclass(frozen=True)
class PoseRules:
    """Rules of a pose, laid out for the kernel.

    Parameters
    ----------
    names : tuple of str, length r
        What each is called in a message.
    most : array, shape (r,)
        The most that each allows: a distance [m], or an angle [deg].
    points : array, shape (r, 2)
        Site position of the point of each. [m]
    kind : array of int, shape (r,)
        As in `pose_kernel`.
    sides : array, shape (r, 4)
        As in `pose_kernel`.
    corners : array, shape (m, 2)
        The pad's outline. [m]
    radius : float
        Of a round pad; 0 for others. [m]
    bearing : BearingLimit
        Which way it may lie.
    """

    names: tuple[str, ...]
    most: FloatArray
    points: FloatArray
    kind: IntArray
    sides: FloatArray
    corners: FloatArray
    radius: float
    bearing: BearingLimit

    @classmethod
    def of(cls, pad: Pad, limits: Limits) -> PoseRules:
        """Lay out the rules of a search.

        Raises
        ------
        InputError
            If the pad has no such side as one that must face a point.
        """
        faces = [side_of(pad, facing.side, facing.source) for facing in limits.facings]
        count = len(limits.reaches)
        every: tuple[ReachLimit | FacingLimit, ...] = (*limits.reaches, *limits.facings)
        return cls(
            names=(
                *(f"the reach to {reach.name}" for reach in limits.reaches),
                *(f"facing {facing.name}" for facing in limits.facings),
            ),
            most=np.array([*(r.distance for r in limits.reaches), *(f.within for f in limits.facings)], np.float64),
            points=np.array([[rule.east, rule.north] for rule in every], dtype=np.float64).reshape(-1, 2),
            kind=np.array([*(KINDS[r.to] for r in limits.reaches), *([FACE] * len(faces))], dtype=np.int64),
            sides=np.vstack([np.zeros((count, 4)), *faces]),
            corners=np.ascontiguousarray(pad.outline, dtype=np.float64),
            radius=pad.radius or 0.0,
            bearing=limits.bearing,
        )

    def measured(self, poses: FloatArray) -> FloatArray:
        """Return what each rule measures, shape (k, r): distances [m], angles [deg].

        Parameters
        ----------
        poses : array, shape (k, 3)
            ``east, north`` [m], ``bearing`` [deg].
        """
        result = np.zeros((len(poses), len(self.names)))
        if self.names and len(poses):
            origin = self.points[0]
            local = np.array(poses, dtype=np.float64)
            local[:, :2] -= origin
            local[:, 2] = np.radians(local[:, 2])
            kernel = pose_kernel if COMPILED else poses_with_numpy
            kernel(local, self.points - origin, self.kind, self.sides, self.corners, self.radius, result)
        return result

    def may_hold(self, poses: FloatArray, shift: FloatArray, turn: FloatArray) -> BoolArray:
        """Tell which boxes of poses may hold one that keeps every rule, shape (k,).

        No point of the pad moves by more than ``shift`` within a box, so no distance changes by more. The way out of a
        side turns by ``turn``, and the way to the point by the angle whose sine is the shift over the distance.

        Parameters
        ----------
        poses : array, shape (k, 3)
            Centres of the boxes: ``east, north`` [m], ``bearing`` [deg].
        shift : array, shape (k,)
            [m]
        turn : array, shape (k,)
            Greatest turn from the centre. [deg]
        """
        keeps: BoolArray = np.ones(len(poses), dtype=np.bool_)
        measured = self.measured(poses)
        for rule, most in enumerate(self.most.tolist()):
            if self.kind[rule] != FACE:
                keeps &= measured[:, rule] - shift <= most + 1e-6
                continue
            away = self._from_side(poses, rule)
            sine = np.minimum(shift / np.maximum(away, 1e-12), 1.0)
            swing = np.where(away > shift, np.degrees(np.arcsin(sine)), 180.0)
            keeps &= measured[:, rule] - turn - swing <= most + 1e-6
        return keeps

    def _from_side(self, poses: FloatArray, rule: int) -> FloatArray:
        """Return the distance of a point from the middle of the side that must face it. [m]"""
        turn = np.radians(poses[:, 2])
        u, v = self.sides[rule, 0], self.sides[rule, 1]
        east = poses[:, 0] + u * np.sin(turn) + v * np.cos(turn)
        north = poses[:, 1] + u * np.cos(turn) - v * np.sin(turn)
        distance: FloatArray = np.hypot(self.points[rule, 0] - east, self.points[rule, 1] - north)
        return distance


def side_of(pad: Pad, side: str, source: Source) -> FloatArray:
    """Return the middle of a side and its way square out, in the pad's frame, shape (4,).

    Parameters
    ----------
    pad : Pad
        The pad.
    side : str
        Letters of its corners, either way round. Of a round pad a quarter point, ``A``.
    source : Source
        Where it was written.

    Raises
    ------
    InputError
        If it has no such side.
    """
    if pad.radius is not None:
        names, places = pad.marked
        found = {name: np.append(place, place / pad.radius) for name, place in zip(names, places, strict=True)}
    else:
        names, ends = pad.names, np.roll(pad.outline, -1, axis=0)
        found = {}
        for row, (start, end) in enumerate(zip(pad.outline, ends, strict=True)):
            along = (end - start) / np.hypot(*(end - start))
            # Corners run clockwise from above, v to the right of u: the outside is to the left of the way.
            out = np.append(0.5 * (start + end), [along[1], -along[0]])
            one, other = names[row], names[(row + 1) % len(names)]
            found[one + other] = found[other + one] = out
    wanted = side.strip().upper()
    if wanted not in found:
        listed = [name for number, name in enumerate(found) if pad.radius is not None or number % 2 == 0]
        raise InputError(
            Fault(
                f"the pad has no side {side!r}",
                f"its sides are {', '.join(listed)}",
                "Name one of them",
                source,
                side,
            )
        )
    return np.asarray(found[wanted], dtype=np.float64)
