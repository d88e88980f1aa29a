"""No allowed placement does better: branch and bound over east, north and bearing.

Boxes of placements are halved along the side that moves the pad most. A box goes when no pose in it is clear of the
limits, or when its lower bound comes within the gap of the best value known; what is left, and the largest of what
went, is the bound that is printed.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from spadework.earthwork._compile import COMPILED
from spadework.earthwork.arrays import PadArrays, pad_arrays
from spadework.earthwork.parts import convex_parts
from spadework.placement.bound_rule import bare_rule, goal_rule
from spadework.placement.box_clearance import CLEAR_BY, convex_shapes, core_may_be_clear, core_shape
from spadework.placement.boxes import box_bounds, halves, slope_bounds
from spadework.placement.limits import BoolArray
from spadework.placement.mesh import RimError, bound_mesh
from spadework.placement.objective import SLOPE_TOLERANCE, Objective
from spadework.placement.polish import Freedom, polish
from spadework.placement.start import search_region
from spadework.placement.warm import await_kernels, bounds_for
from spadework.readings import FloatArray

__all__ = ["Bound", "BoxTree", "Progress", "ProofEffort", "lower_bound", "no_bound_because"]

Progress = Callable[[float, float, int], None]
"""Takes best value, lower bound and boxes bounded so far."""

AT_A_TIME = 4096
"""Boxes halved in one round: the ones of lowest bound."""
CANDIDATES = 8
"""Centres of boxes tried as spots in one round."""
OF_AN_EDGE = 0.2
"""A gap of five thousandths is a millimetre of an edge: more would be seen. [m/m³]"""
MOST_FIRST = 30_000
"""Boxes to begin with, at most."""
TIE = 1e-9
"""A value must be lower by this share to count as better."""
CORE_FROM = 0.2
"""Half width of a box, as a share of the pad's reach, from which its core is looked at."""
SAMPLE = 128
"""Boxes bounded to see whether many of a round would go."""
HARDLY = 0.4
"""Share of them that must go for the others to be bounded as they are: below it their halves are looked at instead."""
MOST_UNSEEN = 3
"""How often boxes are halved in a round without having been bounded, at most."""


@dataclass(frozen=True, slots=True)
class ProofEffort:
    """When a proof may stop.

    Parameters
    ----------
    share : float
        Gap between best value and lower bound, as a share of the best value, that is good enough.
    amount : float
        The same as an amount; the larger of the two counts. [m³, or the goal's own unit]
    work : int
        Triangles looked at before it stops with what it has: the same on every machine.
    seconds : float
        Time after which it stops all the same. [s]
    """

    share: float = 0.01
    amount: float = 0.005
    work: int = 60_000_000
    seconds: float = 120.0


@dataclass(frozen=True)
class Bound:
    """A lower bound and what it took.

    Parameters
    ----------
    lower : float
        No allowed placement has a lower value.
    best : float
        Lowest value found.
    pose : array, shape (3,)
        Where it was found: ``east, north`` [m], ``bearing`` [deg].
    nodes : int
        Boxes bounded.
    seconds : float
        Time taken. [s]
    finished : bool
        Whether the gap was closed as far as was asked.
    """

    lower: float
    best: float
    pose: FloatArray
    nodes: int
    seconds: float
    finished: bool


def no_bound_because() -> str:
    """Return why `lower_bound` gives none, as a clause."""
    if not COMPILED:
        return "numba is not installed here, and without it a bound takes too long"
    return "the rim of the measured ground touches itself"


def lower_bound(
    objective: Objective,
    outline: tuple[FloatArray, ...],
    pose: FloatArray,
    value: float,
    *,
    effort: ProofEffort | None = None,
    progress: Progress | None = None,
) -> Bound | None:
    """Bound the value of every allowed placement from below, and find a better one if there is.

    Parameters
    ----------
    objective : Objective
        The exact objective.
    outline : tuple of arrays, shape (n, 2)
        Rings of the measured ground. [m]
    pose : array, shape (3,)
        Best placement known: ``east, north`` [m], ``bearing`` [deg].
    value : float
        Its value.
    effort : ProofEffort, optional
        When to stop.
    progress : callable, optional
        Called after each round with best value, lower bound and boxes bounded so far.

    Returns
    -------
    Bound or None
        ``None`` where no bound is known for the goal, the rim of the ground touches itself, or kernels cannot be
        compiled here.
    """
    if not COMPILED:
        return None
    rule = goal_rule(objective)
    await_kernels(bounds_for(objective.goal.wall, objective.limits.finish.kind))
    try:
        tree = BoxTree(objective, rule, outline, effort or ProofEffort())
    except RimError:
        return None
    return tree.run(pose, value, progress)


class BoxTree:
    """The open boxes of a branch and bound."""

    sampled = True
    """Whether a sample of the boxes of a round may stand for all of them."""

    def __init__(
        self, objective: Objective, rule: FloatArray, outline: tuple[FloatArray, ...], effort: ProofEffort, *,
        margin: float = 0.0,
    ) -> None:  # fmt: skip
        self.objective, self.rule, self.effort = objective, rule, effort
        corner = standing_corner(objective)
        # With a corner held still the boxes are those of that corner, and rules of the pad's middle are left aside.
        self.standing = bool(corner.any())
        ring = objective.clearance.shape.corners - corner
        self.pad: PadArrays = pad_arrays(convex_parts(ring))
        if not objective.pad.radius:
            shapes = convex_shapes(self.pad)
        else:
            shapes = [] if self.standing else [objective.clearance.shape]  # the circle itself
        bare = replace(objective.clearance, rules=None)
        self.clearances = [replace(bare, shape=shape) for shape in shapes]
        self.cores = [replace(bare, shape=core_shape(shape)) for shape in shapes]
        self.mesh = bound_mesh(objective.ground, 3.0 * self.pad.reach + margin)
        self.freedom = Freedom(objective.pad, objective.limits, objective.clearance.shape.reach)
        self.boxes = self._first_boxes(outline)
        self.lower = np.full(len(self.boxes), -np.inf)
        self.nodes = self.work = 0

    def run(self, pose: FloatArray, value: float, progress: Progress | None) -> Bound:
        """Halve boxes until the gap is closed or the effort is spent."""
        began = time.perf_counter()
        effort = self.effort
        floor, finished = value, False
        children, parents = self.boxes, self.lower
        self.boxes, self.lower = children[:0], parents[:0]
        while True:
            pose, value, bound = self._bounded(children, parents, pose, value)
            good_enough = self._good_enough(value)
            keep = bound[:, 0] < good_enough
            floor = min(floor, float(bound[~keep, 0].min(initial=np.inf)))
            self.boxes = np.vstack([self.boxes, bound[keep, 1:]])
            self.lower = np.concatenate([self.lower, bound[keep, 0]])
            keep = self.lower < good_enough
            floor = min(floor, float(self.lower[~keep].min(initial=np.inf)))
            self.boxes, self.lower = self.boxes[keep], self.lower[keep]
            lower = min(floor, float(self.lower.min(initial=np.inf)))
            if progress is not None:
                progress(value, lower, self.nodes)
            finished = len(self.boxes) == 0
            if finished or self.work > effort.work or time.perf_counter() - began > effort.seconds:
                break
            children, parents = self._halved()
        return Bound(min(lower, value), value, pose, self.nodes, time.perf_counter() - began, finished)

    def _good_enough(self, value: float) -> float:
        """Return the bound from which on a box is done."""
        amount = self.effort.amount * (OF_AN_EDGE if self.objective.goal.unit == "m" else 1.0)
        return value - max(self.effort.share * abs(value), amount)

    def _first_boxes(self, outline: tuple[FloatArray, ...]) -> FloatArray:
        """Return boxes that hold every pose allowed, shape (k, 6), local and in radians."""
        objective = self.objective
        limits, reach = objective.limits, self.pad.reach
        low, high = search_region(limits, outline)
        if self.pad.part.shape[0] > 2:
            low, high = low - reach, high + reach
        if limits.position is not None:
            low = high = np.array([limits.position.east, limits.position.north])
        low, high = low - objective.ground.origin, high - objective.ground.origin
        side = objective.clearance.shape.short_side / 3
        spans = limits.bearing.spans(objective.turn)
        while True:
            counts = [max(math.ceil((to - at) / side), 1) for at, to in zip(low, high, strict=True)]
            parts = [max(math.ceil(math.radians(width) * reach / side), 1) for _, width in spans]
            if counts[0] * counts[1] * sum(parts) <= MOST_FIRST:
                break
            side *= 1.26
        half = [0.5 * (to - at) / count for at, to, count in zip(low, high, counts, strict=True)]
        axes = [at + width * (2 * np.arange(n) + 1) for at, width, n in zip(low, half, counts, strict=True)]
        boxes = []
        for (start, width), count in zip(spans, parts, strict=True):
            half_turn = 0.5 * math.radians(width) / count
            bearings = math.radians(start) + half_turn * (2 * np.arange(count) + 1)
            centres = np.stack([axis.ravel() for axis in np.meshgrid(*axes, bearings, indexing="ij")], axis=-1)
            boxes.append(np.hstack([centres, np.tile([*half, half_turn], (len(centres), 1))]))
        return np.vstack(boxes)

    def _bounded(
        self, boxes: FloatArray, parents: FloatArray, pose: FloatArray, value: float
    ) -> tuple[FloatArray, float, FloatArray]:
        """Return the best pose and value, and the boxes that may hold a better one: bound first, then the box."""
        clear = self._may_be_clear(boxes)
        boxes, parents = boxes[clear], parents[clear]
        if self.sampled:
            boxes, parents = self._halved_unseen(boxes, parents, value)
        if len(boxes) == 0:
            return pose, value, np.zeros((0, 7))
        bound = self._counted(boxes, value)
        pose, value = self._better(boxes, bound[:, 1], pose, value)
        lower = self._without_steep(boxes, np.maximum(bound[:, 0], parents), value)
        return pose, value, np.column_stack([lower, boxes])

    def _without_steep(self, boxes: FloatArray, lower: FloatArray, value: float) -> FloatArray:
        """Return the bounds, infinite for boxes that are not done and in which the ground is too steep everywhere."""
        most = self.objective.limits.ground_slope
        rows = np.flatnonzero(lower < self._good_enough(value))
        if most is None or not len(rows):
            return lower
        await_kernels("slopes")
        found = slope_bounds(self.mesh, self.pad, np.ascontiguousarray(boxes[rows]))
        self.work += int(found[:, 1].sum())
        lower[rows[found[:, 0] > most + SLOPE_TOLERANCE]] = np.inf
        return lower

    def _counted(self, boxes: FloatArray, value: float) -> FloatArray:
        """Return bound, value at the centre and work of each box, and count them."""
        wide = np.maximum(np.hypot(boxes[:, 3], boxes[:, 4]), boxes[:, 5] * self.pad.reach)
        large = wide > CORE_FROM * self.pad.reach
        constant = self.objective.goal.strip * self.objective.strip_volume
        bound = self.bounds(boxes, large, self._good_enough(value) - constant)
        bound[:, :2] += constant
        self.nodes += len(boxes)
        self.work += int(bound[:, 2].sum()) + 20 * len(boxes)
        return bound

    def _halved_unseen(self, boxes: FloatArray, parents: FloatArray, value: float) -> tuple[FloatArray, FloatArray]:
        """Return the boxes, or where hardly any of a sample would go, their halves that may be clear of the limits.

        Boxes that stay are halved after they were bounded: where fewer than half of them go, that costs more than to
        bound the halves of all.
        """
        for _ in range(MOST_UNSEEN):
            if len(boxes) < 4 * SAMPLE:
                break
            some = np.linspace(0, len(boxes) - 1, SAMPLE).astype(np.int64)
            gone = np.maximum(self._counted(boxes[some], value)[:, 0], parents[some]) >= self._good_enough(value)
            if np.mean(gone) >= HARDLY:
                break
            boxes, parents = halves(boxes, self.pad.reach), np.concatenate([parents, parents])
            clear = self._may_be_clear(boxes)
            boxes, parents = boxes[clear], parents[clear]
        return boxes, parents

    def bounds(self, boxes: FloatArray, large: BoolArray, enough: float) -> FloatArray:
        """Return bound, value at the centre and work of each box, turf left out; large ones have a core."""
        bound, bare = np.empty((len(boxes), 3)), bare_rule(self.rule)
        for some, ways in ((large, 5), (~large, 1)):
            rows = np.flatnonzero(some)
            if not len(rows):
                continue
            bound[rows] = box_bounds(self.mesh, self.pad, boxes[rows], bare, ways, enough)
            if bare is not self.rule:
                # Where even the centre seems good enough without its limits, only a bound with them can rule it out.
                rows = rows[(bound[rows, 0] < enough) & ~(bound[rows, 1] >= enough)]
                looked_at = bound[rows, 2]
                if len(rows):
                    bound[rows] = box_bounds(self.mesh, self.pad, boxes[rows], self.rule, ways, enough)
                    bound[rows, 2] += looked_at
        return bound

    def _may_be_clear(self, boxes: FloatArray) -> BoolArray:
        """Tell which boxes may hold a pose that is clear of every limit on position.

        No point of the pad moves by more than ``D`` within a box. A side of the land that lies deeper than ``D`` inside
        the pad, or nearer than it may by more than that, breaks its limit for every pose of the box; and a pad that
        lies wholly on the wrong side of a limit stays there until it moves as far as the nearest side.

        That leaves pads that touch a limit from the wrong side, however small the box. The inner half of the pad
        settles those: it must come to lie farther in by as much as it is drawn in, and cross over from the wrong side.
        """
        shift = np.hypot(boxes[:, 3], boxes[:, 4]) + boxes[:, 5] * self.pad.reach
        poses = boxes[:, :3].copy()
        poses[:, :2] += self.objective.ground.origin
        poses[:, 2] = np.degrees(poses[:, 2])
        clear = np.ones(len(boxes), dtype=np.bool_)
        rules = self.objective.clearance.rules
        if rules is not None and rules.names and not self.standing:
            clear &= rules.may_hold(poses, shift, np.degrees(boxes[:, 5]))
        for clearance, core in zip(self.clearances, self.cores, strict=True):
            distance = clearance.distances(poses)[:, : clearance.rings]
            wrong_side = distance <= -clearance.shape.reach
            away = np.where(
                wrong_side, -distance - clearance.shape.reach, clearance.required[: clearance.rings] - distance
            )
            clear &= (away <= shift[:, None] + CLEAR_BY).all(axis=1)
            touches = np.flatnonzero(clear & (distance <= 0.0).any(axis=1))
            if len(touches):
                clear[touches] = core_may_be_clear(core, poses[touches], shift[touches])
        return clear

    def _better(
        self, boxes: FloatArray, values: FloatArray, pose: FloatArray, value: float
    ) -> tuple[FloatArray, float]:
        """Try the centres that seem to be better than the best pose known, and polish the best of them."""
        promising = np.flatnonzero(values < value - TIE * abs(value))
        if len(promising) == 0:
            return pose, value
        promising = promising[np.argsort(values[promising], kind="stable")]
        poses = boxes[promising, :3].copy()
        poses[:, :2] += self.objective.ground.origin
        poses[:, 2] = np.degrees(poses[:, 2])
        poses = self.freedom.held(poses)
        poses = poses[self.objective.clearance.allowed(poses)][:CANDIDATES]
        if len(poses) == 0:
            return pose, value
        found = self.objective.values(poses)
        best = int(np.argmin(found))
        if not found[best] < value - TIE * abs(value):
            return pose, value
        step = float(np.hypot(boxes[0, 3], boxes[0, 4]))
        moved, there, _ = polish(self.objective.values, self.freedom, poses[best : best + 1], step=step, finest=1e-6)
        return moved[0], float(there[0])

    def _halved(self) -> tuple[FloatArray, FloatArray]:
        """Take out the boxes of lowest bound and return their halves, with the bound that they inherit."""
        taken = np.arange(len(self.boxes))
        if len(taken) > AT_A_TIME:
            taken = np.argpartition(self.lower, AT_A_TIME)[:AT_A_TIME]
        parents, lower = self.boxes[taken], self.lower[taken]
        left = np.ones(len(self.boxes), dtype=np.bool_)
        left[taken] = False
        self.boxes, self.lower = self.boxes[left], self.lower[left]
        return halves(parents, self.pad.reach), np.concatenate([lower, lower])


def standing_corner(objective: Objective) -> FloatArray:
    """Return the point of the pad's frame that stands still where the position is fixed; otherwise its origin."""
    position, pad = objective.limits.position, objective.pad
    if position is None or not position.corner:
        return np.zeros(2)
    names, places = pad.marked
    return np.asarray(places[names.index(position.corner.upper())], dtype=np.float64)
