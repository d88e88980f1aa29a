"""How a spot and its value move when a number that was assumed is another: one at a time, and where the answer flips.

The same question with another number is another objective. Each is searched about the positions of the map of every
spot, each with the bearing that was best there, and the best of them polished: what was good before is near what is
good now, and the spot that was chosen is always among them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from spadework.placement.objective import Objective
from spadework.placement.polish import Freedom, polish
from spadework.placement.spots import SearchResult, Spot
from spadework.readings import FloatArray

__all__ = ["Assumption", "Effect", "Ending", "candidates_of", "what_if"]

POLISHED = 8
MOST_TRIED = 6000
MATTERS, MATTERS_FLAT = 0.02, 2e-4
"""Another spot is better where it saves this share, or so much for each m² of the pad."""
HALVINGS = 14


@dataclass(frozen=True)
class Assumption:
    """A number that was assumed.

    Parameters
    ----------
    name : str
        What it is, in words: ``"shrink"``, ``"price of buy-soil"``.
    low, likely, high : float
        Its range, and what was assumed.
    objective : callable
        The objective for any value of it.
    """

    name: str
    low: float
    likely: float
    high: float
    objective: Callable[[float], Objective]


@dataclass(frozen=True, slots=True)
class Ending:
    """What one end of a range does.

    Parameters
    ----------
    number : float
        What is assumed instead.
    kept : float
        Value at the spot that was chosen, at its best level then; infinite where a limit is broken.
    best : Spot
        The best spot then.
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
        return max(self.kept - self.best.value, 0.0)


@dataclass(frozen=True, slots=True)
class Effect:
    """What an assumption does.

    Parameters
    ----------
    assumption : Assumption
        The number.
    low, high : Ending
        At the ends of its range.
    flips : tuple of float
        Numbers in the range at which another spot becomes the better one: at most one on either side of the likely.
    """

    assumption: Assumption
    low: Ending
    high: Ending
    flips: tuple[float, ...]

    @property
    def swing(self) -> float:
        """By how much the value at the spot that was chosen differs between the ends."""
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
    poses = candidates_of(search)
    effects = []
    for assumption in assumptions:
        low, high = (_ending(assumption, poses, number) for number in (assumption.low, assumption.high))
        flips = [_flip(assumption, poses, end.number) for end in (low, high) if end.moves]
        effects.append(Effect(assumption, low, high, tuple(sorted(flips))))
    return tuple(sorted(effects, key=lambda effect: (-_order(effect.swing), effect.assumption.name)))


def _order(swing: float) -> float:
    """Return a swing to sort by; a spot that a limit forbids at one end comes first."""
    return swing if math.isfinite(swing) else 1e300


def _ending(assumption: Assumption, poses: FloatArray, number: float) -> Ending:
    """Return what one number does."""
    objective = assumption.objective(number)
    values = objective.values(poses)
    kept = float(values[0])
    order = np.argsort(values, kind="stable")
    seeds: list[FloatArray] = [poses[0]]
    apart = objective.clearance.shape.short_side / 2
    for row in order[np.isfinite(values[order])]:
        if len(seeds) > POLISHED:
            break
        if all(np.hypot(*(poses[row] - seed)[:2]) > apart for seed in seeds):
            seeds.append(poses[row])
    freedom = Freedom(objective.pad, objective.limits, objective.clearance.shape.reach)
    found, least, _ = polish(objective.values, freedom, np.array(seeds), step=apart / 2, finest=1e-3)
    outcome = objective.evaluate(found[[int(np.argmin(least))]])
    best = objective.spot(outcome, 0)
    saving = kept - best.value
    away = math.hypot(best.placement.east - poses[0, 0], best.placement.north - poses[0, 1])
    turned = abs((best.placement.bearing - poses[0, 2] + objective.turn / 2) % objective.turn - objective.turn / 2)
    other = away > apart or turned > 30.0
    return Ending(number, kept, best, other and saving > MATTERS * abs(best.value) + MATTERS_FLAT * objective.pad.area)


def _flip(assumption: Assumption, poses: FloatArray, end: float) -> float:
    """Return the number nearest to what is likely at which another spot becomes better, by halving."""
    stays, goes = assumption.likely, end
    for _ in range(HALVINGS):
        middle = (stays + goes) / 2
        if _ending(assumption, poses, middle).moves:
            goes = middle
        else:
            stays = middle
    return goes
