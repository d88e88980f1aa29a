"""No allowed placement of a pad with banks does better: the same branch and bound, with bounds of its own.

Two bounds hold. What the pad alone would cost with vertical sides, its finish free, is never more than what it costs
with banks: banks only add cut and fill at every level, and for any trade between soil over and short that leaves both
weights not negative the least over all levels is no less for it. And the value with banks has a dual of its own; see
`banked_kernel`. The first serves large boxes, where its core bites, the second all.
"""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import pairwise

import numpy as np

from spadework.earthwork import LevelRule, pad_levels_batch
from spadework.earthwork._compile import COMPILED
from spadework.earthwork.bank_arrays import bank_arrays
from spadework.earthwork.bank_levels import reach_for, slopes_of
from spadework.earthwork.bank_shape import bank_shape
from spadework.earthwork.parts import convex_parts
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.placement.banked_kernel import bound_banked
from spadework.placement.banked_objective import BankedObjective
from spadework.placement.banked_pieces import BankedParts
from spadework.placement.bound_rule import goal_rule
from spadework.placement.boxes import MOST_WORKERS, box_bounds
from spadework.placement.limits import BoolArray
from spadework.placement.mesh import Mesh, RimError
from spadework.placement.objective import Objective
from spadework.placement.proof import (
    Bound,
    BoxTree,
    Progress,
    ProofEffort,
    lower_bound,
    standing_corner,
)
from spadework.placement.warm import await_kernels
from spadework.readings import FloatArray, IntArray

__all__ = ["BankedTree", "bound_of"]

STRAIGHT = 1e-12
ROOM = 2.0
"""The parts of the plan reach so much farther than banks between the lowest and the highest ground."""


def bound_of(
    objective: Objective,
    outline: tuple[FloatArray, ...],
    pose: FloatArray,
    value: float,
    *,
    effort: ProofEffort | None = None,
    progress: Progress | None = None,
) -> Bound | None:
    """Bound the value of every allowed placement from below, with banks or with vertical sides.

    Parameters
    ----------
    objective, outline, pose, value, effort, progress
        As in `lower_bound`.

    Returns
    -------
    Bound or None
        ``None`` where the rim of the ground touches itself, or kernels cannot be compiled here.
    """
    if not isinstance(objective, BankedObjective):
        return lower_bound(objective, outline, pose, value, effort=effort, progress=progress)
    if not COMPILED:
        return None
    await_kernels("bounds", "bounds of banks")
    try:
        tree = BankedTree(objective, outline, effort or ProofEffort())
    except RimError:
        return None
    return tree.run(pose, value, progress)


class BankedTree(BoxTree):
    """The open boxes of a branch and bound of a pad with banks."""

    def __init__(self, objective: BankedObjective, outline: tuple[FloatArray, ...], effort: ProofEffort) -> None:
        ground, pad = objective.ground, objective.pad
        low, high = float(ground.level.min()), float(ground.level.max())
        finish = objective.limits.finish
        if finish.kind == "fixed" and finish.level is not None:
            formation = finish.level - pad.build_up.thickness + pad.strip
            low, high = min(low, formation), max(high, formation)
        far = max(ROOM * reach_for(ground, pad), 1.02 * (high - low) / min(slopes_of(pad)))
        super().__init__(objective, goal_rule(objective.bare()), outline, effort, margin=3.0 * far)
        turned = replace(pad, outline=pad.outline - standing_corner(objective))
        self.bank = bank_arrays(bank_shape(turned, far, faceted=True), turned.outline, slopes_of(pad), objective.land)
        self.parts = _parts(turned, far)
        # The weights of the goal, however the finish goes.
        free = replace(objective, limits=replace(objective.limits, finish=replace(finish, kind="free", level=None)))
        self.numbers = free.rule().numbers(pad.build_up.thickness, pad.strip, ground.datum)
        self.ends = np.array([ground.height.min(), ground.height.max()])
        self.beyond = _beyond(self.mesh, ground, turned)
        self.banked = objective

    def bounds(self, boxes: FloatArray, large: BoolArray, enough: float) -> FloatArray:
        """Return bound, value at the centre and work of each box; turf under the banks left out."""
        bound = np.full((len(boxes), 3), -np.inf)
        bound[:, 1:] = np.nan, 0.0
        if large.any():
            bound[large] = box_bounds(self.mesh, self.pad, np.ascontiguousarray(boxes[large]), self.rule, 5, enough)
            bound[:, 1] = np.nan
        rest = np.flatnonzero(bound[:, 0] < enough)
        if len(rest):
            found = self.dual(np.ascontiguousarray(boxes[rest]))
            bound[rest, 0] = np.maximum(bound[rest, 0], found[:, 0])
            bound[rest, 1] = found[:, 1]
            bound[rest, 2] += found[:, 2]
        return bound

    def dual(self, boxes: FloatArray) -> FloatArray:
        """Return the bound that the banks' own weights give, and the value at the centre, on all cores.

        Parameters
        ----------
        boxes : array, shape (k, 6)
            As in `bound_boxes`.

        Returns
        -------
        array, shape (k, 3)
            As in `bound_banked`.
        """
        result = np.empty((len(boxes), 3))
        levels = self._levels(boxes)

        def work(some: slice) -> None:
            bound_banked(
                self.mesh,
                self.parts,
                self.bank,
                self.pad.reach,
                boxes[some],
                levels[some],
                self.numbers,
                self.ends,
                self.beyond,
                result[some],
            )

        cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
        workers = max(min(cores, MOST_WORKERS, len(boxes) // 64), 1)
        if workers == 1:
            work(slice(None))
            return result
        marks = np.linspace(0, len(boxes), 4 * workers + 1).astype(int).tolist()
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(work, [slice(*pair) for pair in pairwise(marks)]))
        return result

    def _levels(self, boxes: FloatArray) -> FloatArray:
        """Return what the limits on the level leave at the centre of each box, as `bound_banked` takes it."""
        objective, pad = self.banked, self.banked.pad
        corner = standing_corner(objective)
        poses = np.column_stack([boxes[:, :2] + objective.ground.origin, np.degrees(boxes[:, 2])])
        bare = replace(pad, outline=pad.outline - corner, radius=None)
        ground = pad_levels_batch(objective.ground, bare, poses, LevelRule("fixed", finish=objective.ground.datum))
        rule, up = objective.rule(), pad.strip - objective.ground.datum
        thickness = pad.build_up.thickness
        low = np.full(len(boxes), rule.lowest_finish - thickness + up)
        high = np.full(len(boxes), rule.highest_finish - thickness + up)
        give = np.zeros(len(boxes))
        strip = up - pad.strip
        if rule.cut_depth < math.inf:
            low, give = np.fmax(low, ground.ground_high + strip - rule.cut_depth), give + 1.0
        if rule.fill_depth < math.inf:
            high, give = np.fmin(high, ground.ground_low + strip + rule.fill_depth), np.ones(len(boxes))
        if rule.kind == "fixed":
            given = rule.finish - thickness + up
            low, high = np.fmax(low, given), np.fmin(high, given)
        elif rule.kind in {"flush", "flush-low"}:
            edge = ground.edge_high if rule.kind == "flush" else ground.edge_low
            # A centre off the measured ground has no edge to be flush with: any level may be there.
            flush = edge + up - thickness
            low, high, give = np.fmax(low, flush), np.fmin(high, flush), np.ones(len(boxes))
        is_given = np.full(len(boxes), {"fixed": 1.0, "flush": 2.0, "flush-low": 2.0}.get(rule.kind, 0.0))
        return np.column_stack(
            [low, high, np.minimum(give, 1.0), is_given, ground.ground_low + strip, ground.ground_high + strip]
        )


def _parts(pad: Pad, far: float) -> BankedParts:
    """Return the parts of a pad and of the plan about it."""
    own, shape = convex_parts(pad.outline), bank_shape(pad, far, faceted=True)
    sides, part = np.vstack([own.sides, shape.sides]), np.concatenate([own.part, own.part[-1] + shape.part[1:]])
    corners = np.vstack([own.corners, shape.corners])
    rings = [corners[first:last] for first, last in pairwise(part.tolist())]
    box = np.array([np.column_stack([ring.min(axis=0), ring.max(axis=0)]).ravel() for ring in rings])
    low, high = pad.outline.min(axis=0), pad.outline.max(axis=0)
    return BankedParts(
        np.ascontiguousarray(sides),
        part.astype(np.int64),
        np.vstack([np.zeros((len(own.part) - 1, 3)), shape.plane]),
        box,
        np.array([low[0], high[0], low[1], high[1]]),
        _nearest_planes(pad),
        *slopes_of(pad),
    )


def _sharpest(pad: Pad) -> float:
    """Return the least share of the plain distance that the distance of the banks comes to: at a mitre."""
    if pad.edge.corners == "round":
        return 1.0
    along = np.roll(pad.outline, -1, axis=0) - pad.outline
    before = np.roll(along, 1, axis=0)
    turn = np.arctan2(before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0], (before * along).sum(axis=1))
    return float(np.cos(np.maximum(turn, 0.0) / 2.0).min())


def _nearest_planes(pad: Pad) -> FloatArray:
    """Return planes that the distance of the banks nowhere falls short of, shape (h, 3).

    Of a convex pad its sides; of another the sides of its hull, less what a mitre may take off the plain distance.
    """
    ring = np.asarray(pad.outline, dtype=np.float64)
    along = np.roll(ring, -1, axis=0) - ring
    before = np.roll(along, 1, axis=0)
    convex = bool((before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0] >= -STRAIGHT).all())
    if not convex:
        from scipy.spatial import ConvexHull  # noqa: PLC0415 -- scipy is slow to import

        ring = ring[ConvexHull(ring).vertices]
        along = np.roll(ring, -1, axis=0) - ring
    normal = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]
    planes = np.column_stack([normal, (normal * ring).sum(axis=1)])
    scaled: FloatArray = planes if convex else planes * _sharpest(pad)
    return np.ascontiguousarray(scaled)


def _beyond(mesh: Mesh, ground: Ground, pad: Pad) -> IntArray:
    """Return 1 for the triangles about the measured ground that a bound must not rest on, shape (t,).

    An allowed pad has banks that meet the ground before its rim. Going on outward, ``d`` grows by at least the share of
    `_sharpest` for each metre: as long as the ground beyond the rim rises and falls by less than that times the banks'
    slopes, they do not meet it again, and what stands there adds nothing.
    """
    added: BoolArray = np.asarray((mesh.triangles >= len(ground.east)).any(axis=1))
    steepest = float(np.hypot(*mesh.slope[added].T).max(initial=0.0))
    harmless = steepest < _sharpest(pad) * min(slopes_of(pad))
    rest: IntArray = added.astype(np.int64) * (0 if harmless else 1)
    return rest
