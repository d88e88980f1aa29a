"""How a spot and its value move when a number that was assumed is another: one at a time, and where the answer flips.

The same question with another number is another objective. Each is searched about the positions of the map of every
spot, each with the bearing that was best there, and the best of them polished: what was good before is near what is
good now, and the spot that was chosen is always among them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from spadework.placement.objective import Objective
from spadework.placement.polish import Freedom, polish
from spadework.placement.spots import SearchResult, Spot
from spadework.readings import FloatArray

__all__ = ["Assumption", "Effect", "Ending", "Kind", "candidates_of", "what_if"]

Kind = Literal["share", "length", "price", "height price", "wage", "rate"]
POLISHED = 6
MOST_TRIED = 6000
MOST_MOVED = 1500
"""Poses tried of a goal that counts barrowing, the cheapest: each takes long."""
MATTERS, MATTERS_FLAT = 0.02, 2e-4
"""Another spot is better where it saves this share, or so much for each m² of the pad."""
TURNED = 30.0
"""A spot is another one where it lies half the pad's width away or is turned by this. [deg]"""
FINEST = 0.005
"""Last step of the polish: 2 % of a value is looked for, not the last litre. [m]"""
CLOSE, CLOSE_FLAT = 0.15, 5e-4
"""Polished is what is no dearer than the best by this share of the way to the middling position, and so much a m²."""
HALVINGS, RIVALS = 14, 6


@dataclass(frozen=True)
class Assumption:
    """A number that was assumed.

    Parameters
    ----------
    name : str
        What it is, in words: ``"shrink of the soil"``, ``"price of buy-soil"``.
    low, likely, high : float
        Its range, and what was assumed.
    objective : callable
        The objective for any value of it.
    kind : {"share", "length", "price", "height price", "wage", "rate"}
        What it counts in: a share of one, m, currency/m³, currency/m, currency/h, or the unit that is given.
    unit : str
        Currency of a price, unit of a rate.
    """

    name: str
    low: float
    likely: float
    high: float
    objective: Callable[[float], Objective] = field(repr=False, compare=False)
    kind: Kind = "share"
    unit: str = ""

    def __reduce__(self) -> tuple[type[Assumption], tuple[object, ...]]:
        """Go to another process without the objective, which stays in this one: the numbers are all that is drawn."""
        return Assumption, (self.name, self.low, self.likely, self.high, _left_behind, self.kind, self.unit)


def _left_behind(number: float) -> Objective:
    """Stand for an objective that another process has."""
    raise RuntimeError(f"the objective for {number:g} stayed in the process that worked it out")


@dataclass(frozen=True, slots=True)
class Ending:
    """What one number does in the place of the likely one.

    Parameters
    ----------
    number : float
        What is assumed instead.
    kept : float
        Value at the spot that was chosen, at its best level then; infinite where a limit is broken.
    best : Spot
        The best spot then; of infinite value where none was found that keeps the limits.
    moves : bool
        Whether that is another spot, and better by more than a hair.
    """

    number: float
    kept: float
    best: Spot
    moves: bool

    @property
    def regret(self) -> float:
        """What it costs to stay."""
        return max(self.kept - self.best.value, 0.0) if math.isfinite(self.best.value) else 0.0


@dataclass(frozen=True, slots=True)
class Effect:
    """What an assumption does.

    Parameters
    ----------
    assumption : Assumption
        The number.
    low, high : Ending
        At the ends of its range.
    flips : tuple of Ending
        Where in the range another spot becomes the better one: at most one on either side of the likely.
    """

    assumption: Assumption
    low: Ending
    high: Ending
    flips: tuple[Ending, ...]

    @property
    def swing(self) -> float:
        """By how much the value at the spot that was chosen differs between the ends."""
        if not (math.isfinite(self.low.kept) and math.isfinite(self.high.kept)):
            return 0.0 if self.low.kept == self.high.kept else math.inf
        return abs(self.high.kept - self.low.kept)


def candidates_of(search: SearchResult) -> FloatArray:
    """Return the poses that are tried: the spots of a search, and the best of each position of its map, shape (k, 3).

    Parameters
    ----------
    search : SearchResult
        What was found for the likely numbers.
    """
    spots = [[at.east, at.north, at.bearing] for at in (s.placement for s in (search.best, *search.alternatives))]
    poses = np.array(spots)
    if search.spot_map is None:
        return poses
    every = search.spot_map
    row, column = np.nonzero(np.isfinite(every.value))
    cheap = np.argsort(every.value[row, column], kind="stable")
    keep = np.unique(np.linspace(0, len(cheap) - 1, min(MOST_TRIED, len(cheap))).astype(np.int64))
    row, column = row[cheap[keep]], column[cheap[keep]]
    return np.vstack([poses, np.column_stack([every.east[column], every.north[row], every.bearing[row, column]])])


def what_if(search: SearchResult, assumptions: Sequence[Assumption]) -> tuple[Effect, ...]:
    """Return what each assumption does, the one that moves the value most first.

    Parameters
    ----------
    search : SearchResult
        What was found for the likely numbers.
    assumptions : sequence of Assumption
        One is changed at a time.
    """
    if not assumptions:
        return ()
    first = assumptions[0]
    likely, poses = first.objective(first.likely), candidates_of(search)
    asked = _Asked.of(likely, poses[:MOST_MOVED] if likely.goal.moved else poses)
    effects = []
    for assumption in assumptions:
        low, high = (asked.ending(assumption, number) for number in (assumption.low, assumption.high))
        flips = [asked.flip(assumption, end) for end in (low, high) if end.moves]
        effects.append(Effect(assumption, low, high, tuple(sorted(flips, key=lambda end: end.number))))
    return tuple(sorted(effects, key=lambda effect: (-effect.swing, effect.assumption.name)))


@dataclass(frozen=True, eq=False)
class _Asked:
    """Where spots are sought: the chosen pose first, then where the likely numbers came to rest, then the map's.

    ``behind`` is by how much the chosen spot is dearer than the best for the likely numbers: above zero where it was
    chosen by another rule than the least value.
    """

    poses: FloatArray
    behind: float

    @classmethod
    def of(cls, likely: Objective, poses: FloatArray) -> _Asked:
        values = likely.values(poses)
        rested, least = _rested(likely, poses, values, likely.clearance.shape.short_side / 8)
        behind = float(values[0] - least.min())
        return cls(np.vstack([poses[:1], rested, poses[1:]]), max(behind, 0.0) if math.isfinite(behind) else 0.0)

    def ending(self, assumption: Assumption, number: float) -> Ending:
        """Return what one number does."""
        objective = assumption.objective(number)
        values = objective.values(self.poses)
        rested, least = _rested(objective, self.poses, values, objective.clearance.shape.short_side / 16)
        outcome = objective.evaluate(rested[[int(np.argmin(least))]])
        best, kept = objective.exactly(objective.spot(outcome, 0)), float(objective.true_values(self.poses[:1])[0])
        another = _apart(objective, outcome.poses[0], self.poses[0]) or not math.isfinite(kept)
        return Ending(number, kept, best, another and kept - best.value > self.hair(objective, best.value))

    def hair(self, objective: Objective, least: float) -> float:
        """Return by how much another spot must be better."""
        return self.behind + MATTERS * abs(least) + MATTERS_FLAT * objective.pad.area

    def flip(self, assumption: Assumption, end: Ending) -> Ending:
        """Return the number nearest to what is likely at which another spot becomes better.

        It is halved between spots that stand still, which is cheap; there all are sought anew, and what is found joins
        them, until nothing new is better.
        """
        nearest, rivals = end, [_pose(end.best)]
        for _ in range(RIVALS):
            number = self._overtaken(assumption, nearest.number, np.array([self.poses[0], *rivals]))
            found = self.ending(assumption, number)
            if not found.moves:
                break
            near = abs(found.number - nearest.number) < 2.0**-HALVINGS * abs(end.number - assumption.likely)
            nearest = found
            rivals.append(_pose(found.best))
            if near:
                break
        return nearest

    def _overtaken(self, assumption: Assumption, end: float, poses: FloatArray) -> float:
        """Return the number nearest to what is likely at which one of the later poses is better than the first."""
        stays, goes = assumption.likely, end
        for _ in range(HALVINGS):
            middle = (stays + goes) / 2
            objective = assumption.objective(middle)
            kept, *others = objective.true_values(poses).tolist()
            least = min(others)
            if kept - least > self.hair(objective, least):
                goes = middle
            else:
                stays = middle
        return goes


def _pose(spot: Spot) -> FloatArray:
    at = spot.placement
    return np.array([at.east, at.north, at.bearing])


def _apart(objective: Objective, one: FloatArray, other: FloatArray) -> bool:
    """Tell whether two poses are different spots."""
    turned = abs((one[2] - other[2] + objective.turn / 2) % objective.turn - objective.turn / 2)
    away = math.hypot(one[0] - other[0], one[1] - other[1])
    return bool(away > objective.clearance.shape.short_side / 2 or turned > TURNED)


def _rested(objective: Objective, poses: FloatArray, values: FloatArray, step: float) -> tuple[FloatArray, FloatArray]:
    """Return where the first and the best poses that lie apart come to rest, and the values there."""
    apart = objective.clearance.shape.short_side / 2
    order = np.argsort(values, kind="stable")
    order = order[np.isfinite(values[order])]
    if len(order):
        least, middling = values[order[[0, len(order) // 2]]]
        order = order[values[order] <= least + CLOSE * (middling - least) + CLOSE_FLAT * objective.pad.area]
    seeds: list[FloatArray] = [poses[0]]
    for row in order:
        if len(seeds) > POLISHED:
            break
        if all(np.hypot(*(poses[row] - seed)[:2]) > apart for seed in seeds):
            seeds.append(poses[row])
    freedom = Freedom(objective.pad, objective.limits, objective.clearance.shape.reach)
    found, value, _ = polish(objective.values, freedom, np.array(seeds), step=step, finest=FINEST)
    return found, value
