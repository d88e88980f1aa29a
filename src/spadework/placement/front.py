"""The trade-off front of two goals: what one costs at the least when the other may be so much and no more.

Points on the convex hull of the front are the best spots of weighted sums of the two goals, each found and proved like
any goal. Between them a hull has corners that no weights reach: there the first goal is made least under a bound
on the second, by search over the positions of the maps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from spadework.placement.goals import Goal
from spadework.placement.objective import Objective, Outcome
from spadework.placement.polish import Freedom, polish
from spadework.placement.spots import Proof, SearchResult, Spot
from spadework.placement.what_if import candidates_of
from spadework.readings import FloatArray

__all__ = ["FrontPoint", "mixed", "trade_off"]

SHARES = (0.2, 0.4, 0.6, 0.8)
"""Weights of the second goal that are proved, besides none and all, as shares once both goals are scaled alike."""
LEVELS = (0.0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)
"""Weights at whose best level each position is tried."""
BETWEEN = 7
"""Bounds on the second goal that are tried between the ends."""
SEEDS = 4
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
    )


def values_of(goal: Goal, objective: Objective, outcome: Outcome) -> FloatArray:
    """Return the value of a goal at the levels of an outcome, infinite where it is not allowed, shape (k,)."""
    finish = outcome.formation + objective.pad.build_up.thickness
    wall = np.maximum(outcome.edge_high - finish, finish - outcome.edge_low)
    soil = (outcome.cut, outcome.fill, objective.keep, objective.reserve)
    value = goal.values(*soil, wall=wall, strip=outcome.strip)
    return np.where(np.isfinite(outcome.value), value, np.inf)


def trade_off(find: Callable[[Goal], SearchResult], one: Goal, other: Goal) -> tuple[FrontPoint, ...]:
    """Return the front of two goals, by rising value of the second.

    Parameters
    ----------
    find : callable
        Finds and proves the best spot of a goal.
    one, other : Goal
        The goals; soil is bought only where both let it.
    """
    ends = [find(mixed(one, other, share, (1.0, 1.0))) for share in (0.0, 1.0)]
    points = [_point(found, one, other, share) for found, share in zip(ends, (0.0, 1.0), strict=True)]
    scale = tuple(
        max(abs(a - b), 1e-3 * max(abs(a), abs(b)), 1e-9)
        for a, b in ((points[0].first, points[1].first), (points[0].second, points[1].second))
    )
    scales = (scale[0], scale[1])
    proved = [find(mixed(one, other, share, scales)) for share in SHARES]
    points += [_point(found, one, other, share) for found, share in zip(proved, SHARES, strict=True)]
    points += _searched(ends, proved, one, other, scales, points)
    return _front(points)


def _point(found: SearchResult, one: Goal, other: Goal, share: float) -> FrontPoint:
    assert found.objective is not None  # noqa: S101 -- every search has one
    objective, at = found.objective, found.best.placement
    outcome = objective.evaluate(np.array([[at.east, at.north, at.bearing]]))
    first, second = (float(values_of(goal, objective, outcome)[0]) for goal in (one, other))
    return FrontPoint(first, second, found.best, found.proof, share)


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
    poses = np.unique(np.vstack([candidates_of(found) for found in (*ends, *proved)]), axis=0)
    family = [replace(objective, goal=mixed(one, other, share, scale)) for share in LEVELS]

    def both(trial: FloatArray) -> tuple[FloatArray, FloatArray]:
        found = [(member, member.evaluate(trial)) for member in family]
        return tuple(np.array([values_of(goal, *each) for each in found]) for goal in (one, other))  # type: ignore[return-value]

    first, second = both(poses)
    freedom = Freedom(objective.pad, objective.limits, objective.clearance.shape.reach)
    step = objective.clearance.shape.short_side / 4
    more = []
    low, high = sorted((points[0].second, points[1].second))
    for bound in np.linspace(low, high, BETWEEN + 2)[1:-1]:

        def least(a: FloatArray, b: FloatArray, bound: float = float(bound)) -> FloatArray:
            lowest: FloatArray = np.where(b <= bound, a, np.inf).min(axis=0)
            return lowest

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
        a, b = both(pose)
        member = int(np.argmin(np.where(b[:, 0] <= bound, a[:, 0], np.inf)))
        outcome = family[member].evaluate(pose)
        more.append(FrontPoint(float(a[member, 0]), float(b[member, 0]), family[member].spot(outcome, 0)))
    return more


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
