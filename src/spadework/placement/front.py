"""The trade-off front of two goals: what one costs at the least when the other may be so much and no more.

Points on the convex hull of the front are the best spots of weighted sums of the two goals, each found and proved like
any goal. Between them a hull has corners that no weights reach: there the first goal is made least under a bound
on the second, by search over the positions of the maps. Those points are not proved; but each proved sum is a line that
no spot lies below, and so says what the first goal costs at the least for each value of the second.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from spadework.placement.carrying import Carrying
from spadework.placement.goals import Goal
from spadework.placement.limits import FinishLimit
from spadework.placement.objective import Objective, Outcome
from spadework.placement.polish import Freedom, polish
from spadework.placement.spots import Proof, SearchResult, Spot
from spadework.placement.what_if import MOST_MOVED, candidates_of
from spadework.readings import FloatArray, IntArray

__all__ = ["Front", "FrontPoint", "Support", "mixed", "trade_off", "values_of"]

SHARES = (0.2, 0.4, 0.6, 0.8)
"""Weights of the second goal that are proved, besides none and all, as shares once both goals are scaled alike."""
LEVELS = (0.0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)
"""Weights at whose best level each position is tried."""
BETWEEN = 7
"""Bounds on the second goal that are tried between the ends."""
SEEDS = 4
HALVINGS = 12
SAME = 0.01
"""Points that differ by less in both goals, as a share of the range, are told once."""


@dataclass(frozen=True, slots=True)
class FrontPoint:
    """One spot of the front.

    Parameters
    ----------
    first, second : float
        Values of the two goals.
    spot : Spot
        The spot; its value is that of the mix it was found for, or of the first goal.
    proof : Proof, optional
        Where it is the best of a weighted sum: the bound of that sum. ``None`` where it was only searched.
    share : float, optional
        Weight of the second goal in that sum, as a share.
    """

    first: float
    second: float
    spot: Spot
    proof: Proof | None = None
    share: float | None = None


@dataclass(frozen=True, slots=True)
class Support:
    """A proved sum, ``(1 - share) first / scale₁ + share second / scale₂ >= bound`` at every spot allowed."""

    share: float
    scale: tuple[float, float]
    bound: float

    def least_first(self, second: float) -> float:
        """Return what the first goal is at least where the second is no more than a value."""
        if self.share == 1.0:
            return math.inf if second < self.bound else -math.inf
        return (self.bound - self.share * second / self.scale[1]) * self.scale[0] / (1.0 - self.share)


@dataclass(frozen=True, slots=True)
class Front:
    """The front of two goals.

    Parameters
    ----------
    points : tuple of FrontPoint
        By rising value of the second goal.
    supports : tuple of Support
        The sums that are proved.
    """

    points: tuple[FrontPoint, ...]
    supports: tuple[Support, ...] = ()

    def least_first(self, second: float) -> float:
        """Return what the first goal is proved to be at least where the second is no more than a value.

        Infinite where the second goal is proved to be more everywhere, minus infinite where nothing is proved.
        """
        return max((support.least_first(second) for support in self.supports), default=-math.inf)


def mixed(one: Goal, other: Goal, share: float, scale: tuple[float, float]) -> Goal:
    """Return the weighted sum ``(1 - share) one / scale₁ + share other / scale₂``.

    Parameters
    ----------
    one, other : Goal
        The two goals.
    share : float
        Weight of the second, from 0 to 1.
    scale : (float, float)
        What their values are divided by, so that both count alike.
    """
    if share in {0.0, 1.0}:
        return replace(other if share else one, buys=one.buys and other.buys)
    first, second = (1 - share) / scale[0], share / scale[1]
    weights = {name: first * weight + second * other.weights[name] for name, weight in one.weights.items()}
    named = f"{1 - share:.0%} {one.name}, {share:.0%} {other.name}"
    return Goal(
        named,
        cut=weights["cut"],
        fill=weights["fill"],
        over=weights["over"],
        short=weights["short"],
        buys=one.buys and other.buys,
        sentence=f"least of the mix {named}",
        wall=weights["wall"],
        strip=weights["strip"],
        moved=weights["moved"],
    )


def values_of(goal: Goal, objective: Objective, outcome: Outcome) -> FloatArray:
    """Return the value of a goal at the levels of an outcome, infinite where it is not allowed, shape (k,).

    Of barrowing it is what that is at least.
    """
    finish = outcome.formation + objective.pad.build_up.thickness
    wall = np.maximum(outcome.edge_high - finish, finish - outcome.edge_low)
    soil = (outcome.cut, outcome.fill, objective.keep, objective.reserve)
    moved = np.zeros(len(outcome.poses))
    if goal.moved and objective.carrying is not None:
        allowed = np.isfinite(outcome.value)
        moved[allowed] = objective.carrying.at_least(objective, outcome.poses[allowed], outcome.formation[allowed])
    value = goal.values(*soil, wall=wall, strip=outcome.strip, moved=moved)
    return np.where(np.isfinite(outcome.value), value, np.inf)


def trade_off(find: Callable[[Goal], SearchResult], one: Goal, other: Goal) -> Front:
    """Return the front of two goals, by rising value of the second.

    Parameters
    ----------
    find : callable
        Finds and proves the best spot of a goal.
    one, other : Goal
        The goals; soil is bought only where both let it.
    """
    ends = [find(mixed(one, other, share, (1.0, 1.0))) for share in (0.0, 1.0)]
    points = [_point(found, ends, one, other, share) for found, share in zip(ends, (0.0, 1.0), strict=True)]
    scale = tuple(
        max(abs(a - b), 1e-3 * max(abs(a), abs(b)), 1e-9)
        for a, b in ((points[0].first, points[1].first), (points[0].second, points[1].second))
    )
    scales = (scale[0], scale[1])
    proved = [find(mixed(one, other, share, scales)) for share in SHARES]
    points += [_point(found, ends, one, other, share) for found, share in zip(proved, SHARES, strict=True)]
    points += _searched(ends, proved, one, other, scales, points)
    return Front(_front(points), (*_supports(ends, (0.0, 1.0), (1.0, 1.0)), *_supports(proved, SHARES, scales)))


def _supports(found: Sequence[SearchResult], shares: Sequence[float], scale: tuple[float, float]) -> Iterator[Support]:
    """Yield what is proved of the sums that were searched."""
    for one, share in zip(found, shares, strict=True):
        if one.proof is not None:
            yield Support(share, scale, one.proof.lower_bound)


def _point(found: SearchResult, ends: list[SearchResult], one: Goal, other: Goal, share: float) -> FrontPoint:
    assert found.objective is not None  # noqa: S101 -- every search has one
    objective, at = replace(found.objective, carrying=_carrying(ends)), found.best.placement
    outcome = objective.evaluate(np.array([[at.east, at.north, at.bearing]]))
    first, second = (_true_value(goal, objective, outcome) for goal in (one, other))
    return FrontPoint(first, second, found.best, found.proof, share)


def _carrying(ends: list[SearchResult]) -> Carrying | None:
    """Return the barrowing of the end that counts it."""
    found = [end.objective.carrying for end in ends if end.objective is not None and end.objective.carrying is not None]
    return found[0] if found else None


def _true_value(goal: Goal, objective: Objective, outcome: Outcome) -> float:
    """Return the value of a goal at the level of an outcome's only row, barrowing worked out."""
    if not goal.moved:
        return float(values_of(goal, objective, outcome)[0])
    return replace(objective, goal=goal).exactly(objective.spot(outcome, 0)).value


def _truly(point: FrontPoint | None, objective: Objective, one: Goal, other: Goal) -> FrontPoint | None:
    """Return a point that was searched with its true values, where a goal counts barrowing."""
    if point is None or objective.carrying is None:
        return point
    at = point.spot.placement
    fixed = replace(objective, limits=replace(objective.limits, finish=FinishLimit("fixed", at.finish)))
    outcome = fixed.evaluate(np.array([[at.east, at.north, at.bearing]]))
    if not math.isfinite(outcome.value[0]):
        return None
    first, second = (_true_value(goal, fixed, outcome) for goal in (one, other))
    return replace(point, first=first, second=second, spot=fixed.exactly(fixed.spot(outcome, 0)))


def _searched(  # noqa: PLR0917 -- what was found, and the two goals
    ends: list[SearchResult],
    proved: list[SearchResult],
    one: Goal,
    other: Goal,
    scale: tuple[float, float],
    points: list[FrontPoint],
) -> list[FrontPoint]:
    """Return the least of the first goal under bounds on the second, spread evenly between the ends."""
    objective = ends[0].objective
    assert objective is not None  # noqa: S101 -- as above
    objective = replace(objective, carrying=_carrying(ends))
    poses = np.unique(np.vstack([candidates_of(found) for found in (*ends, *proved)]), axis=0)
    if objective.carrying is not None and len(poses) > MOST_MOVED:
        poses = poses[np.linspace(0, len(poses) - 1, MOST_MOVED).astype(np.int64)]  # each takes long
    family = [replace(objective, goal=mixed(one, other, share, scale)) for share in LEVELS]

    def both(trial: FloatArray) -> tuple[FloatArray, FloatArray]:
        found = [(member, member.evaluate(trial)) for member in family]
        return tuple(np.array([values_of(goal, *each) for each in found]) for goal in (one, other))  # type: ignore[return-value]

    first, second = both(poses)
    freedom = Freedom(objective.pad, objective.limits, objective.clearance.shape.reach)
    step = objective.clearance.shape.short_side / 4
    more: list[FrontPoint | None] = []
    low, high = sorted((points[0].second, points[1].second))
    for bound in np.linspace(low, high, BETWEEN + 2)[1:-1]:

        def least(a: FloatArray, b: FloatArray, bound: float = float(bound)) -> FloatArray:
            return _under(a, b, bound)[0]

        under = least(first, second)
        rows = np.argsort(under, kind="stable")[:SEEDS]
        rows = rows[np.isfinite(under[rows])]
        if len(rows) == 0:
            continue
        found, value, _ = polish(
            lambda trial, least=least: least(*both(trial)),  # type: ignore[misc]
            freedom,
            poses[rows],
            step=step,
            finest=step / 16,
            cubes=1,
        )
        pose = found[[int(np.argmin(value))]]
        more.append(_truly(_held(family, pose, one, other, float(bound)), family[LEVELS.index(0.5)], one, other))
    return [point for point in more if point is not None]


def _under(first: FloatArray, second: FloatArray, bound: float) -> tuple[FloatArray, IntArray]:
    """Return the least of the first goal with the second within a bound, and which weight gives it.

    Between the levels of two neighbouring weights both goals are taken as straight: as they are convex in the level, or
    nearly so, no more than that is lost.

    Parameters
    ----------
    first, second : array, shape (w, k)
        Values at the levels of each weight.
    bound : float
        Of the second goal.

    Returns
    -------
    least : array, shape (k,)
    weight : array of int, shape (k,)
        The row, or the upper of the two.
    """
    at = np.where(second <= bound, first, np.inf)
    row, least = at.argmin(axis=0), at.min(axis=0)
    over, under = second[:-1] > bound, second[1:] <= bound
    with np.errstate(invalid="ignore", divide="ignore"):
        part = (second[:-1] - bound) / (second[:-1] - second[1:])
        between = first[:-1] + part * (first[1:] - first[:-1])
    between = np.where(over & under & np.isfinite(between), between, np.inf)
    better = between.min(axis=0) < least
    return np.where(better, between.min(axis=0), least), np.where(better, between.argmin(axis=0) + 1, row)


def _held(family: list[Objective], pose: FloatArray, one: Goal, other: Goal, bound: float) -> FrontPoint | None:
    """Return the point of a pose at the level where the second goal just keeps its bound, by halving."""
    outcomes = [member.evaluate(pose) for member in family]
    first, second = (
        np.array([values_of(goal, member, found) for member, found in zip(family, outcomes, strict=True)])
        for goal in (one, other)
    )
    row = int(_under(first, second, bound)[1][0])
    if not (second[row, 0] <= bound and math.isfinite(first[row, 0])):
        return None
    member, outcome = family[row], outcomes[row]
    best = FrontPoint(float(first[row, 0]), float(second[row, 0]), member.spot(outcome, 0))
    if row == 0 or not math.isfinite(second[row - 1, 0]) or second[row - 1, 0] <= bound:
        return best
    keeps, breaks = float(outcome.formation[0]), float(outcomes[row - 1].formation[0])
    for _ in range(HALVINGS):
        level = (keeps + breaks) / 2
        finish = FinishLimit("fixed", level + member.pad.build_up.thickness)
        fixed = replace(member, limits=replace(member.limits, finish=finish))
        found = fixed.evaluate(pose)
        a, b = (float(values_of(goal, fixed, found)[0]) for goal in (one, other))
        if b <= bound:
            keeps = level
            if a < best.first:
                best = FrontPoint(a, b, fixed.spot(found, 0))
        else:
            breaks = level
    return best


def _front(points: list[FrontPoint]) -> tuple[FrontPoint, ...]:
    """Return the points that no other beats in both goals; of those a hair apart one: an end, or else a proved one."""
    hair = tuple(SAME * float(np.ptp(values)) for values in np.array([(p.first, p.second) for p in points]).T)
    kept: list[FrontPoint] = []
    for point in sorted(points, key=lambda p: (p.second, p.first, p.proof is None)):
        if kept and point.first >= kept[-1].first - 1e-9 * (1 + abs(kept[-1].first)):
            continue
        near = kept and kept[-1].first - point.first < hair[0] and point.second - kept[-1].second < hair[1]
        if near and _rank(point) <= _rank(kept[-1]):
            continue
        if near:
            kept.pop()
        kept.append(point)
    return tuple(kept)


def _rank(point: FrontPoint) -> int:
    """Return how much a point has to be told: most the two ends, then those that are proved."""
    if point.proof is None:
        return 0
    return 2 if point.share in {0.0, 1.0} else 1
