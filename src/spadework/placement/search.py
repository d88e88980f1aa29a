"""Find the spot: a dense start on the exact objective, local polish of the best distinct ones, three alternatives."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from spadework.earthwork._compile import COMPILED
from spadework.factors import SoilFactors
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.placement.alternatives import Trade, apart, far_enough, with_trades
from spadework.placement.banked_objective import objective_of
from spadework.placement.banked_proof import bound_of
from spadework.placement.carrying import Carrier, Carrying
from spadework.placement.clearance import Clearance
from spadework.placement.descent import around, nearest_of_equals, shaken
from spadework.placement.explain import nothing_fits
from spadework.placement.goal_words import hours_notice
from spadework.placement.goals import Goal
from spadework.placement.limit_words import limit_notice
from spadework.placement.limits import BoolArray, Limits
from spadework.placement.objective import Objective, Outcome
from spadework.placement.polish import Freedom, polish
from spadework.placement.proof import Bound, Progress, ProofEffort
from spadework.placement.proof_words import proof_of, unproved
from spadework.placement.raster_start import RasterStart, raster_start
from spadework.placement.search_words import coarse_notice, equal_notice
from spadework.placement.settled import MOST_TURNS, ReserveAt, first_reserve, reserve_again, uncounted
from spadework.placement.shape import PadShape
from spadework.placement.spot_map import SpotMap, finish_curve, spot_map
from spadework.placement.spots import SearchResult, Spot
from spadework.placement.squeezed import squeezed_in
from spadework.placement.start import MOST_EVALUATED, StartGrid, dense_start, middle_of, most_evaluated
from spadework.placement.valleys import Valley, find_valleys, valley_floors, with_rise
from spadework.placement.warm import await_kernels
from spadework.readings import FloatArray, IntArray
from spadework.units import LengthUnit

__all__ = ["find_placement"]

SEEDS, FAR_SEEDS, FINALISTS = 48, 16, 12
"""Starts polished: the best that are a little apart, and the best that really differ; then the best of both, finely."""
ALTERNATIVES = 3
LIGHT = 0.25
"""Share of the starts that are polished where a proof looks everywhere after them."""
FINER = 9
"""Poses along each axis of the finer grid about a start, which spans one step of the first grid to either side."""
FINEST, FINEST_IN_HASTE = 1e-6, 1e-4
"""Last step of the polish, and where many triangles lie under the pad. [m]"""
TIE = 1e-7
"""Values that differ by this share are equal: which spot is named then rests on position, not on rounding."""
ALMOST, ALMOST_FLAT = 0.01, 1e-4
"""Placements within this share of the best, or so many m³ per m² of pad, are equally good."""
MANY, MANY_SHARE = 20, 0.1
"""So many positions, and such a share of all, make many."""

Values = Callable[[FloatArray], FloatArray]


def find_placement(
    ground: Ground,
    pad: Pad,
    limits: Limits,
    goal: Goal,
    soil: SoilFactors | float,
    *,
    unit: LengthUnit = LengthUnit.METRE,
    landmarks: Sequence[tuple[str, float, float]] = (),
    effort: ProofEffort | None = None,
    progress: Progress | None = None,
    reserve: float | ReserveAt = 0.0,
    carrier: Carrier | None = None,
) -> SearchResult:
    """Find the placement of least value that keeps every limit, and prove it where effort is given for that.

    The level at a placement is found exactly; position and bearing by a dense start and local polish. The proof bounds
    every allowed placement from below, and may find a better one on the way. The result does not change from run to
    run. Of equal spots the one nearest the middle of the boundary is named, then the one of smallest bearing.

    Parameters
    ----------
    ground : Ground
        The surface.
    pad : Pad
        What is wanted; with banks, `find_banked_placement` checks what it says of them.
    limits : Limits
        Where it may go and how high.
    goal : Goal
        What should be least.
    soil : SoilFactors or float
        How soil shrinks; or, as a number, the compacted volume that one volume in the bank makes.
    unit : LengthUnit
        The user's unit, for sentences.
    landmarks : sequence of (str, float, float)
        Named points, east and north, that sentences may refer to. [m]
    effort : ProofEffort, optional
        When the proof may stop; without it none is made.
    progress : callable, optional
        Called during the proof with best value, lower bound and boxes bounded so far.
    reserve : float or callable
        Soil that the pad gets besides its own cut wherever it is put, in the bank; or what returns it for a placement,
        and then the amount counted everywhere is that of the spot found. [m³]
    carrier : Carrier, optional
        What knows ways and heaps, such as `spadework.haul.YardCarrier`; for a goal that counts barrowing.

    Returns
    -------
    SearchResult

    Raises
    ------
    PlacementError
        If no placement keeps all limits; the message says which limit forbids how much, and what would make room.
    ValueError
        For a goal that counts barrowing, without a carrier.
    """
    keep = soil if isinstance(soil, float | int) else 1.0 - soil.shrink
    outline = ground.outline()
    clearance = Clearance.of(pad, limits, outline, ground.origin)
    objective = objective_of(ground, pad, limits, goal, float(keep), clearance)
    middle = middle_of(limits, outline)
    await_kernels("clearance", "levels", "levels of banks")
    grid = dense_start(objective, outline, middle)
    plain = replace(objective, goal=goal.without_moved)
    objective = replace(objective, carrying=Carrying.asked(goal, pad, carrier))
    scanned = raster_start(plain, grid)
    counted = first_reserve(plain, grid.poses, reserve) if callable(reserve) else reserve
    least = counted
    for left in range(MOST_TURNS, 0, -1):
        objective = replace(objective, reserve=counted if left > 1 else least)
        plain = replace(plain, reserve=objective.reserve)
        start, table = grid, plain.evaluate(grid.poses)
        if not np.isfinite(table.value).any():
            start, table = squeezed_in(plain, scanned.added_to(start))
        if not np.isfinite(table.value).any():
            raise nothing_fits(plain, start, table, unit)
        search = Search(objective, start, table, scanned, middle, unit, tuple(landmarks), light=effort is not None)
        if goal.moved:
            from spadework.placement.moved_search import moved_search  # noqa: PLC0415 -- it builds on this module

            search = moved_search(search)
        chosen, tried, bound = search.proved(outline, effort, progress)
        again = reserve_again(plain, chosen[0], reserve) if callable(reserve) else None
        if again is None:
            break
        counted, least = again, min(least, again)
    found = search.result(chosen, tried, bound, effort)
    return found if again is None else replace(found, notices=(*found.notices, uncounted(again, objective, unit)))


@dataclass(frozen=True)
class Search:
    """The steps after the dense start."""

    objective: Objective
    start: StartGrid
    table: Outcome
    scanned: RasterStart
    middle: FloatArray
    unit: LengthUnit
    landmarks: tuple[tuple[str, float, float], ...]
    light: bool = False

    @property
    def shape(self) -> PadShape:
        """The pad's outline."""
        return self.objective.clearance.shape

    @property
    def freedom(self) -> Freedom:
        """What may move."""
        return Freedom(self.objective.pad, self.objective.limits, self.shape.reach)

    @property
    def effort(self) -> float:
        """Share of the full number of starts that a ground with many triangles under the pad leaves time for."""
        return most_evaluated(self.objective) / MOST_EVALUATED

    @property
    def thorough(self) -> bool:
        """Whether there is time for the full polish."""
        return self.effort > 0.5

    def chosen(self) -> tuple[list[FloatArray], int]:
        """Polish the best starts; return the poses of the best spot and of those that really differ, and the effort."""
        poses, values, tried = self._descend()
        # Poses of the dense start that are as good stay in: of equals, the one on the grid has the rounder numbers.
        ties = self.table.value <= values.min() + self.tie(values.min())
        poses, values = np.vstack([poses, self.table.poses[ties]]), np.concatenate([values, self.table.value[ties]])
        order = self._order(poses, values)
        best = float(values[order[0]])
        chosen = [poses[order[0]]]
        if len(self._equals(best)):
            limit = best + self.tie(best)
            chosen[0] = nearest_of_equals(self.objective.values, self.freedom, self.middle, chosen[0], limit)
        valleys, more = valley_floors(self.objective, self.valleys, poses, values, self.start.step)
        for pose in valleys:
            if len(chosen) <= ALTERNATIVES and self.apart_from(chosen, pose[None])[0]:
                chosen.append(pose)
        if len(chosen) <= ALTERNATIVES:  # fewer valleys than wanted: other spots that really differ
            order = order[self.apart_from(chosen, poses[order])]
            rows = self._distinct(poses, order, *far_enough(self.shape), 1 + ALTERNATIVES - len(chosen))
            chosen += list(poses[rows])
        return chosen, tried + more + self._kept_apart(chosen)

    @cached_property
    def valleys(self) -> tuple[Valley, ...]:
        """Valleys of the map of every spot, the cheapest first."""
        return () if self.spot_map is None else find_valleys(self.spot_map, self.objective.pad.area)

    @cached_property
    def spot_map(self) -> SpotMap | None:
        """Best value at each position tried."""
        return spot_map(self.table, self.start.step, self.objective.pad.build_up.thickness)

    def proved(
        self, outline: tuple[FloatArray, ...], effort: ProofEffort | None, progress: Progress | None
    ) -> tuple[list[FloatArray], int, Bound | None]:
        """Return what `chosen` does, after the proof, where one is asked for, has had its say; and the bound."""
        chosen, tried = self.chosen()
        if effort is None:
            return chosen, tried, None
        if self.light and not COMPILED:
            chosen, tried = replace(self, light=False).chosen()
        value = float(self.objective.values(chosen[0][None])[0])
        bound = bound_of(self.objective, outline, chosen[0], value, effort=effort, progress=progress)
        if bound is not None and bound.best < value - self.tie(value):
            chosen = [bound.pose, *(pose for pose in chosen if self.apart_from([bound.pose], pose[None])[0])]
            tried += bound.nodes
        if self.light and COMPILED and (bound is None or not bound.finished):
            # The proof has not looked everywhere: the search does what it would have done without it.
            others, more = replace(self, light=False).chosen()
            here, there = self.objective.values(np.array([chosen[0], others[0]]))
            chosen, tried = (others if there < here - self.tie(here) else chosen), tried + more
        elif self.light and not len(self._equals(float(self.objective.values(chosen[0][None])[0]))):
            chosen[0], more = self._finely(chosen[0])
            tried += more
        return chosen, tried, bound

    def _finely(self, pose: FloatArray) -> tuple[FloatArray, int]:
        """Return where the spot that a proof leaves comes to rest when it is shaken and polished to the last."""
        values, freedom = self.objective.values, self.freedom
        here = values(pose[None])
        width = self.shape.short_side / 10
        poses, found, first = shaken(
            values, freedom, pose[None], here, width=width, rounds=3, kept=2, copies=max(2, round(12 * self.effort))
        )
        best = poses[[int(np.argmin(found))]]
        finest = FINEST if self.thorough else FINEST_IN_HASTE
        poses, found, second = polish(values, freedom, best, step=0.01, finest=finest, cubes=6)
        better = found[0] < here[0] - self.tie(float(here[0]))
        return (poses[0] if better else pose), first + second

    def result(
        self, chosen: list[FloatArray], tried: int, bound: Bound | None, effort: ProofEffort | None
    ) -> SearchResult:
        """Return the chosen spots, and what is known of those that were not chosen."""
        objective, strip = self.objective, self.objective.strip_volume
        spots = self.spots(objective.evaluate(np.array(chosen)))
        spots[1:] = [with_rise(spot, spots[0], self.valleys, self.shape.short_side) for spot in spots[1:]]
        trade = Trade(self.objective.goal, self.unit, self.landmarks, self.objective.pad.edge.retained)
        step = 0.0 if self.scanned.cells else self.start.step
        proof = None if bound is None else proof_of(bound, spots[0], self.objective.goal, self.unit)
        return SearchResult(
            best=spots[0],
            alternatives=with_trades(spots[0], sorted(spots[1:], key=lambda spot: spot.value), trade),
            evaluated=len(self.table.poses) + tried,
            searched=(
                f"{self.start.sentence(self.unit)}, each at its best level, and the best "
                f"{sum(self._seed_counts()) + len(self.scanned.poses)} polished"
                f"{self.scanned.sentence(trade.goal, self.unit, self.objective.reserve)}{unproved(bound, effort)}"
            ),
            proof=proof,
            notices=(
                *(coarse_notice(step, self.shape.short_side, self.unit) if proof is None else ()),
                *equal_notice(self._equals(spots[0].value), self.table.poses),
                *limit_notice(self.objective, chosen[0]),
                *hours_notice(objective.goal, spots[0], keep=objective.keep, reserve=objective.reserve, strip=strip),
            ),
            reserve=self.objective.reserve,
            spot_map=self.spot_map,
            finish_curve=finish_curve(self.objective, chosen[0]),
            objective=self.objective,
        )

    def spots(self, outcome: Outcome) -> list[Spot]:
        """Return every row of an outcome as a spot."""
        return [self.objective.spot(outcome, row) for row in range(len(outcome.poses))]

    def _descend(self) -> tuple[FloatArray, FloatArray, int]:
        """Return polished poses of the best valleys, their values, and how many poses that took."""
        values, freedom, shape = self.objective.values, self.freedom, self.shape
        steps = np.array([self.start.step, self.start.step, self.start.turn])
        width = max(steps[0], math.radians(steps[2]) * shape.reach)
        many, far = self._seed_counts()
        seeds = np.vstack([self._seeds(1.5 * steps[0], 2.5 * steps[2], many), self._seeds(*far_enough(shape), far)])
        if not self.light:
            seeds = around(values, freedom, seeds, steps, FINER if self.thorough else 1 + FINER // 2)
        seeds = np.vstack([seeds, self.scanned.poses])
        rough, found, first = polish(values, freedom, seeds, step=width / 4, finest=0.01)
        tops, tops_found, second = shaken(
            values,
            freedom,
            rough,
            found,
            width=shape.short_side / 10,
            rounds=2 if self.light else 3 if self.objective.limits.finish.kind == "free" else 6,
            kept=2 if self.light else 8,
            copies=max(2, round(12 * self.effort)),
        )
        rough, found = np.vstack([rough, tops]), np.concatenate([found, tops_found])
        order = self._order(rough, found)
        full = self.thorough and not self.light
        rows = self._distinct(rough, order, 0.01, 0.5, FINALISTS if full else 1 + ALTERNATIVES)
        rows += self._distinct(rough, order, *far_enough(shape), 2 * ALTERNATIVES if full else 1 + ALTERNATIVES)
        poses, values_there, third = polish(
            values,
            freedom,
            rough[np.unique(rows)],
            step=0.01,
            finest=FINEST if self.thorough else FINEST_IN_HASTE,
            cubes=6 if full else 2,
        )
        return poses, values_there, first + second + third

    def _seed_counts(self) -> tuple[int, int]:
        """Return how many starts a little apart, and how many really different ones, are polished."""
        share = self.effort * (LIGHT if self.light else 1.0)
        return max(8, round(SEEDS * share)), max(2 * ALTERNATIVES, round(FAR_SEEDS * share))

    def _order(self, poses: FloatArray, values: FloatArray) -> IntArray:
        """Return the rows of finite value, best first; equal ones by distance from the middle, then by bearing."""
        rows = np.flatnonzero(np.isfinite(values))
        rows = rows[np.argsort(values[rows], kind="stable")]
        steps = np.diff(values[rows], prepend=values[rows[:1]]) > self.tie(values[rows])
        distance = np.hypot(*(poses[rows, :2] - self.middle).T).round(6)
        bearing = np.mod(poses[rows, 2], self.objective.turn).round(6)
        return rows[np.lexsort((bearing, distance, np.cumsum(steps)))]

    def tie(self, value: FloatArray | float) -> FloatArray | float:
        """Return by how much values may differ and still be equal."""
        return TIE * np.abs(value) + 1e-9 * self.objective.pad.area

    def _distinct(self, poses: FloatArray, order: IntArray, distance: float, degrees: float, count: int) -> list[int]:
        """Return the first rows of an order that are apart from all taken before them."""
        chosen: list[int] = []
        while len(order) and len(chosen) < count:
            chosen.append(int(order[0]))
            order = order[apart(poses[order], poses[order[0]], distance, degrees, self.objective.turn)]
        return chosen

    def _seeds(self, distance: float, degrees: float, count: int) -> FloatArray:
        """Return the best poses of the dense start that are so far apart."""
        poses, order = self.table.poses, self._order(self.table.poses, self.table.value)
        return poses[self._distinct(poses, order, distance, degrees, count)]

    def _kept_apart(self, chosen: list[FloatArray]) -> int:
        """Fill up the alternatives, where there are fewer valleys than wanted, with the best spots held apart."""
        poses, order = self.table.poses, self._order(self.table.poses, self.table.value)
        tried = 0
        for pose in chosen:
            order = order[self.apart_from([pose], poses[order])]
        while len(chosen) <= ALTERNATIVES and len(order):

            def value_of(trial: FloatArray) -> FloatArray:
                return np.where(self.apart_from(chosen, trial), self.objective.values(trial), np.inf)

            found, _, more = polish(
                value_of, self.freedom, poses[order[:1]], step=max(self.start.step, 0.1) / 2, finest=1e-3
            )
            tried += more
            chosen.append(found[0])
            order = order[self.apart_from([found[0]], poses[order])]
        return tried

    def apart_from(self, chosen: Sequence[FloatArray], poses: FloatArray) -> BoolArray:
        """Tell which poses really differ from all of the chosen."""
        distance, degrees = far_enough(self.shape)
        verdicts = [apart(poses, pose, distance, degrees, self.objective.turn) for pose in chosen]
        every: BoolArray = np.logical_and.reduce(verdicts)
        return every

    def _equals(self, best: float) -> FloatArray:
        """Return the positions within one per cent of the best, shape (k, 2), where they are many and spread out."""
        near = self.table.value <= best * (1 + ALMOST) + ALMOST_FLAT * self.objective.pad.area
        positions = np.unique(self.table.poses[near, :2], axis=0)
        every = len(np.unique(self.table.poses[:, :2], axis=0))
        many = len(positions) >= max(MANY, MANY_SHARE * every)
        return positions if many and np.ptp(positions, axis=0).max() > self.shape.diagonal / 2 else positions[:0]
