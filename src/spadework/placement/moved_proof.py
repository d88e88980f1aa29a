"""No allowed placement asks for less barrowing: the branch and bound of `proof`, with bounds from prices of soil."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from spadework.earthwork.cells import PadCells
from spadework.placement.bound_rule import goal_rule
from spadework.placement.boxes import box_bounds
from spadework.placement.mesh import RimError
from spadework.placement.moved_bound import MovedBound
from spadework.placement.objective import Objective
from spadework.placement.polish import polish
from spadework.placement.proof import CORE_FROM, TIE, Bound, BoxTree, Progress, ProofEffort
from spadework.placement.warm import await_kernels
from spadework.readings import FloatArray

__all__ = ["MovedTree", "moved_bound"]

TRIED = 6
"""Middles of boxes worked out in one round: those whose prices say least."""
MOST_TRIED = 240
WORK_OF_A_CELL = 4
"""Triangles that a cell counts for in the work of a proof."""
AMOUNT = 4.0
"""A gap of so many barrow-metres counts as little as one of a cubic metre of digging. [m/m³]"""


def moved_bound(
    objective: Objective,
    outline: tuple[FloatArray, ...],
    pose: FloatArray,
    value: float,
    *,
    effort: ProofEffort,
    progress: Progress | None = None,
) -> Bound | None:
    """Bound the value of every allowed placement from below, for a goal that counts barrowing.

    Parameters
    ----------
    objective : Objective
        With its carrying.
    outline, pose, effort, progress
        As for `proof.lower_bound`.
    value : float
        True value of the best placement known.

    Returns
    -------
    Bound or None
        ``None`` where the rim of the ground touches itself.
    """
    await_kernels("bounds")
    plain = replace(objective, goal=objective.goal.without_moved, carrying=None)
    try:
        tree = MovedTree(objective, goal_rule(plain), outline, effort)
    except RimError:
        return None
    return tree.run(pose, value, progress)


class MovedTree(BoxTree):
    """The open boxes of a branch and bound on barrowing, and on what the goal counts besides."""

    def __init__(
        self, objective: Objective, rule: FloatArray, outline: tuple[FloatArray, ...], effort: ProofEffort
    ) -> None:
        super().__init__(objective, rule, outline, effort)
        assert objective.carrying is not None  # noqa: S101 -- the search refuses such a goal without
        self.carrying = objective.carrying
        shift = self.pad.corners[0] - objective.clearance.shape.parts.corners[0]
        self.barrowing = MovedBound(objective, self.mesh, self.pad, _shifted(self.carrying.cells, shift))
        # The bound on the rest holds where the goal without barrowing is that rest.
        self.rest = objective.goal.bounds_level
        self.tried = 0

    def _good_enough(self, value: float) -> float:
        """Return the bound from which on a box is done."""
        amount = self.effort.amount * max(1.0, AMOUNT * self.objective.goal.moved)
        return value - max(self.effort.share * abs(value), amount)

    def _bounded(
        self, boxes: FloatArray, parents: FloatArray, pose: FloatArray, value: float
    ) -> tuple[FloatArray, float, FloatArray]:
        """Return the best pose and value, and the boxes that may hold a better one: bound first, then the box."""
        clear = self._may_be_clear(boxes)
        boxes, parents = boxes[clear], parents[clear]
        if len(boxes) == 0:
            return pose, value, np.zeros((0, 7))
        rest, middle = self._rest(boxes)
        open_rows = np.flatnonzero(rest < self._good_enough(value))
        weight = self.objective.goal.moved
        lower = rest.copy()
        if len(open_rows):
            found = self.barrowing.of(boxes[open_rows])
            lower[open_rows] += weight * found.lower
            middle[open_rows] += weight * found.middle
        self.nodes += len(boxes)
        self.work += (20 + WORK_OF_A_CELL * len(self.carrying.cells)) * len(boxes)
        pose, value = self._better(boxes[open_rows], middle[open_rows], pose, value)
        lower = self._without_steep(boxes, np.maximum(lower, parents), value)
        return pose, value, np.column_stack([lower, boxes])

    def _rest(self, boxes: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what the rest of the goal is at least in each box, and at its middle; infinite without a level."""
        wide = np.maximum(np.hypot(boxes[:, 3], boxes[:, 4]), boxes[:, 5] * self.pad.reach)
        large = wide > CORE_FROM * self.pad.reach
        bound = np.empty((len(boxes), 3))
        for some, ways in ((large, 5), (~large, 1)):
            if some.any():
                asked = np.ascontiguousarray(boxes[some])
                bound[some] = box_bounds(self.mesh, self.pad, asked, self.rule, ways if self.rest else 0)
        self.work += int(bound[:, 2].sum())
        constant = self.objective.goal.strip * self.objective.strip_volume
        impossible = bound[:, 0] == np.inf
        lower = np.maximum(bound[:, 0], 0.0) if self.rest else np.zeros(len(boxes))
        middle = np.nan_to_num(bound[:, 1]) if self.rest else np.zeros(len(boxes))
        return np.where(impossible, np.inf, lower) + constant, middle + constant

    def _better(
        self, boxes: FloatArray, values: FloatArray, pose: FloatArray, value: float
    ) -> tuple[FloatArray, float]:
        """Work out the middles of which the prices say least, which adds prices, and polish one that is better."""
        order = np.argsort(values, kind="stable")
        order = order[values[order] < self._good_enough(value)]
        poses = boxes[order, :3].copy()
        poses[:, :2] += self.objective.ground.origin
        poses[:, 2] = np.degrees(poses[:, 2])
        poses = self.freedom.held(poses[: 8 * TRIED])
        poses = poses[self.objective.clearance.allowed(poses)] if len(poses) else poses
        outcome = self.objective.evaluate(poses)
        for row in np.argsort(outcome.value, kind="stable")[:TRIED]:
            if self.tried >= MOST_TRIED or not outcome.value[row] < self._good_enough(value):
                break
            self.tried += 1
            found = self.objective.exactly(self.objective.spot(outcome, int(row))).value
            if found < value - TIE * abs(value):
                from spadework.placement.moved_search import TrueLeast  # noqa: PLC0415 -- it builds on this module

                step = float(np.hypot(boxes[order[0], 3], boxes[order[0], 4]))
                least = TrueLeast(self.objective)
                moved, there, _ = polish(least, self.freedom, poses[[row]], step=step, finest=1e-3)
                pose, value = moved[0], float(there[0])
        return pose, value


def _shifted(cells: PadCells, shift: FloatArray) -> PadCells:
    """Return cells about another origin, for a corner that stands still."""
    pieces = cells.pieces._replace(
        corners=cells.pieces.corners + shift,
        box=cells.pieces.box + np.repeat(shift, 2)[None],
        first=cells.pieces.first + shift[0],
    )
    return replace(cells, centre=cells.centre + shift, pieces=pieces)
