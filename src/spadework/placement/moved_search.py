"""The search for least barrowing: bounds first, the account of moves where they leave a doubt, and its prices kept.

A true value takes a thousand times as long as a bound. The pose of lowest bound is worked out; the prices that prove
its value lift the bounds of all others; and so on, until no bound is lower than the best true value (the cutting planes
of J. E. Kelley, "The cutting-plane method for solving convex programs", 1960, here of a function that is not convex in
the pose, over poses that are listed). The polish goes the same way: of the poses of a round only those are worked out
whose bound is lower than the best.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from spadework.earthwork._compile import COMPILED
from spadework.placement.alternatives import apart
from spadework.placement.goals import GOALS
from spadework.placement.moved_proof import moved_bound
from spadework.placement.objective import Objective, Outcome
from spadework.placement.polish import polish
from spadework.placement.proof import Bound, Progress, ProofEffort
from spadework.placement.search import Search
from spadework.placement.spots import SearchResult, Spot
from spadework.placement.start import StartGrid
from spadework.readings import FloatArray

__all__ = ["MovedSearch", "learned", "moved_search"]

MOST_HELD = 8000
"""Poses of the dense start, the lowest, whose bounds are lifted by every price found."""
MOST_SOLVED = 150
"""Poses of the dense start worked out."""
CLOSE = 2e-3
"""Share by which a bound may lie below the best true value and be left."""
STARTS = 3
"""Places from which the true value is made least."""
MOST_LOOKED_AT = 200
"""Poses worked out on the way from one start, at most: where soil goes to a heap bounds leave many to be."""
SAME_LEVEL = 5e-3
"""Finish levels that differ by less are the same. [m]"""
FINEST = 2e-3
"""Last step of that. [m]"""


def learned(objective: Objective, start: StartGrid) -> tuple[Outcome, FloatArray]:
    """Return a dense start worked out, and those of its poses whose true value is lowest, shape (s, 3).

    Parameters
    ----------
    objective : Objective
        For a goal that counts barrowing; the prices it is left with make its bounds close near the best poses.
    start : StartGrid
        The poses.
    """
    table, carrying = objective.evaluate(start.poses), objective.carrying
    assert carrying is not None  # noqa: S101 -- the caller has it
    order = np.argsort(table.value, kind="stable")
    rows = order[np.isfinite(table.value[order])][:MOST_HELD]
    if len(rows) == 0:
        return table, np.zeros((0, 3))
    poses, formation = table.poses[rows], table.formation[rows]
    spare = carrying.spare(objective, poses, formation)
    weight, size = objective.goal.moved, len(carrying.cells)
    value = table.value[rows]
    rest = value - weight * carrying.under(spare, np.array(carrying.prices).reshape(-1, size))
    true, open_rows = np.full(len(rows), np.inf), np.ones(len(rows), dtype=np.bool_)
    heaped = np.abs(spare.sum(axis=1)) > 1e-3
    for _ in range(MOST_SOLVED):
        row = int(np.argmin(np.where(open_rows, value, np.inf)))
        if not open_rows[row] or value[row] >= true.min() * (1.0 - CLOSE):
            break
        known = len(carrying.prices)
        true[row] = rest[row] + weight * carrying.exactly(objective, poses[row], float(formation[row]))
        value = np.maximum(value, rest + weight * carrying.under(spare, np.array(carrying.prices[known:])))
        value[row], open_rows[row] = true[row], False
        if heaped[row]:
            # Prices say little of a heap that stands elsewhere: what lies beside is left to the polish.
            open_rows &= apart(poses, poses[row], 1.5 * start.step, 1.5 * start.turn, objective.turn)
    best = np.argsort(true, kind="stable")
    return objective.evaluate(start.poses), poses[best[np.isfinite(true[best])]]


def moved_search(search: Search) -> MovedSearch:
    """Return the search for a goal that counts barrowing, its dense start worked out.

    Parameters
    ----------
    search : Search
        Its table is that of the same goal without barrowing: it says what is allowed.
    """
    clear = replace(search.start, poses=search.start.poses[np.isfinite(search.table.value)])
    table, best = learned(search.objective, clear)
    return MovedSearch(
        search.objective,
        clear,
        table,
        search.scanned,
        search.middle,
        search.unit,
        search.landmarks,
        light=True,
        starts=best,
    )


@dataclass
class TrueLeast:
    """Values of which the least is true: the others are bounds no lower than it.

    After `MOST_LOOKED_AT` poses no more are worked out, and none is better: a polish comes to rest.
    """

    objective: Objective
    solved: int = 0

    def __call__(self, poses: FloatArray) -> FloatArray:
        """Return values of poses, shape (k, 3) to (k,); infinite where a pose is not allowed."""
        outcome = self.objective.evaluate(poses)
        value, best = outcome.value.copy(), np.inf
        for row in np.argsort(outcome.value, kind="stable"):
            if not outcome.value[row] < best:
                break
            if self.solved >= MOST_LOOKED_AT:
                value[outcome.value < best] = np.inf
                break
            value[row] = self.objective.exactly(self.objective.spot(outcome, int(row))).value
            best, self.solved = min(best, value[row]), self.solved + 1
        return value


@dataclass(frozen=True)
class MovedSearch(Search):
    """The steps after the dense start, for a goal that counts barrowing."""

    starts: FloatArray = field(default_factory=lambda: np.zeros((0, 3)))

    def proved(
        self, outline: tuple[FloatArray, ...], effort: ProofEffort | None, progress: Progress | None
    ) -> tuple[list[FloatArray], int, Bound | None]:
        """Return the chosen poses, the best by its true value, the effort, and the bound."""
        chosen, tried = self.chosen()
        starts = self._apart(np.vstack([chosen[0][None], self.starts]))
        step = self.shape.short_side / 16
        found = [
            polish(TrueLeast(self.objective), self.freedom, pose[None], step=step, finest=FINEST) for pose in starts
        ]
        values = np.array([float(value[0]) for _, value, _ in found])
        tried += sum(count for _, _, count in found)
        best, value = found[int(np.argmin(values))][0][0], float(values.min())
        bound = None
        if effort is not None and COMPILED:
            bound = moved_bound(self.objective, outline, best, value, effort=effort, progress=progress)
            if bound is not None and bound.best < value - self.tie(value):
                best, tried = bound.pose, tried + bound.nodes
        others = [pose for pose in (*chosen, *starts) if self.apart_from([best], pose[None])[0]]
        kept: list[FloatArray] = [best]
        for pose in others:
            if len(kept) <= 3 and self.apart_from(kept, pose[None])[0]:
                kept.append(pose)
        return kept, tried + self._kept_apart(kept), bound

    def _apart(self, poses: FloatArray) -> FloatArray:
        """Return the first poses, up to `STARTS` of them, that lie apart."""
        kept: list[FloatArray] = []
        for pose in poses:
            if all(apart(pose[None], other, 2 * self.start.step, 2 * self.start.turn, 360.0)[0] for other in kept):
                kept.append(pose)
            if len(kept) == STARTS:
                break
        return np.array(kept)

    def spots(self, outcome: Outcome) -> list[Spot]:
        """Return spots with their true values."""
        return [self.objective.exactly(spot) for spot in super().spots(outcome)]

    def result(
        self, chosen: list[FloatArray], tried: int, bound: Bound | None, effort: ProofEffort | None
    ) -> SearchResult:
        """Return the chosen spots, and how their barrowing was found."""
        found = super().result(chosen, tried, bound, effort)
        return replace(found, notices=(*found.notices, *self._notices(found.best)))

    def _notices(self, best: Spot) -> list[str]:
        """Return what barrowing leaves to be said."""
        goal, plain = self.objective.goal, self.objective.goal.without_moved
        said = []
        if goal.bounds_level and self.objective.limits.finish.kind == "free" and plain.name != "digging":
            rest = replace(self.objective, goal=GOALS["digging"], carrying=None)
            at = best.placement
            level = rest.evaluate(np.array([[at.east, at.north, at.bearing]])).formation[0]
            if not abs(level - best.formation) <= SAME_LEVEL:
                said.append(
                    f"The finish is the one that the goal {goal.name} asks for without its barrowing: another may need "
                    "less of both together."
                )
        if self.objective.reserve > 0.0:
            said.append(
                "The goal counts the soil out of the trench of the edge as if it came evenly from all round; the list "
                "of moves counts it where it is dug, and comes to another sum of loads times way."
            )
        return said
