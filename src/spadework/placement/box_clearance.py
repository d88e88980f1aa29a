"""What boxes of placements are tried with for the limits on position: the convex parts of a pad, their inner halves."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from spadework.earthwork.arrays import PadArrays
from spadework.earthwork.parts import convex_parts
from spadework.placement.clearance import Clearance
from spadework.placement.limits import BoolArray
from spadework.placement.shape import PadShape
from spadework.readings import FloatArray

__all__ = ["CLEAR_BY", "convex_shapes", "core_may_be_clear", "core_shape"]

CLEAR_BY = 1e-6
"""A box is not clear only if every pose in it breaks a limit by more. [m]"""


def core_shape(shape: PadShape) -> PadShape:
    """Return the inner half of a convex shape: its corners half as far from its inner point."""
    middle = np.zeros(2) if shape.radius else shape.inner
    ring = middle + 0.5 * (shape.corners - middle)
    return PadShape(np.ascontiguousarray(ring), convex_parts(ring))


def core_may_be_clear(core: Clearance, poses: FloatArray, shift: FloatArray) -> BoolArray:
    """Tell which poses, moved by no more than a shift, may bring the inner half of a pad as far in as it must be.

    Its outline is half as far from the inner point as that of the pad, so that between the two lies half the radius of
    the largest circle about that point: the same as the radius within the inner half.
    """
    sides = core.shape.parts.sides
    inside = float((sides[:, 2] - sides[:, :2] @ core.shape.inner).min())
    required = core.required[: core.rings] + inside
    distance, reach = core.distances(poses)[:, : core.rings], core.shape.reach
    across = -distance - reach + required + inside
    away = np.where(distance <= -reach, across, required - distance)
    may: BoolArray = np.all(away <= shift[:, None] + CLEAR_BY, axis=1)
    return may


def convex_shapes(pad: PadArrays) -> list[PadShape]:
    """Return each convex part of a pad as a shape of its own: where one part breaks a limit, the pad does."""
    rings = [pad.corners[first:last] for first, last in pairwise(pad.part.tolist())]
    # Copies may be written to, as other shapes: the test of clearance is compiled for one kind of array.
    return [PadShape(ring.copy(), convex_parts(ring)) for ring in rings]
