"""What a spot is to be expected to cost over every ground that the shots allow, in closed form."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from spadework.confidence.nodes import pad_nodes
from spadework.confidence.volumes import expected_cut_fill
from spadework.earthwork import LevelRule
from spadework.ground.process import GroundProcess
from spadework.ground.process_fit import one_thread
from spadework.pad import Pad, Placement
from spadework.placement.goals import Goal
from spadework.readings import FloatArray

__all__ = ["ExpectedSpot", "expected_spot"]

NODES = 128
ROUNDS = 3
HALVINGS = 40


class ExpectedSpot(NamedTuple):
    """Expected value of the goal, and expected cut and fill. [m³]"""

    value: float
    cut: float
    fill: float


def expected_spot(  # noqa: PLR0917 -- a spot and how it is counted
    process: GroundProcess, pad: Pad, placement: Placement, goal: Goal, keep: float, rules: tuple[LevelRule, ...]
) -> ExpectedSpot:
    """Return what a spot is expected to cost, its finish level following the ground where the rule leaves it free.

    At each point ``E max(z - h, 0) = sd φ(u) + (m - h) Φ(u)``, ``u = (m - h) / sd``. A fixed level has the sd of the
    ground there. A free one is set to the ground that is found, so that what the whole pad has in common costs
    nothing: there ``sd`` is that of ``z - L``, with ``L`` the weighted mean of the ground that the level follows to first
    order (weights ``k Φ + 1 - Φ`` for a balance, ``φ / sd`` for a quantile).

    Parameters
    ----------
    process : GroundProcess
        The ground as the shots describe it.
    pad, placement : Pad, Placement
        What is built, and where; the finish is used where the rule fixes the level.
    goal : Goal
        What should be least.
    keep : float
        Compacted volume that one volume in the bank makes.
    rules : tuple of LevelRule
        Ways to choose the level, ``"balanced"``, ``"weights"`` or ``"fixed"``, without limits on heights: each
        covariance takes the one of least expected value.
    """
    points, area = pad_nodes(pad, placement, count=NODES)
    places = points - process.origin
    found = []
    for part in process.parts:
        with one_thread(len(process)):
            mean, between = part.mean(places) - pad.strip, part.between(places, places)
        each = []
        for rule in rules:
            cut, fill = _cut_fill(mean, between, area, rule, placement.finish - pad.build_up.thickness)
            value = float(goal.values(np.array([cut]), np.array([fill]), keep)[0])
            each.append((value, cut, fill))
        found.append(min(each))
    return ExpectedSpot(*(process.weight @ np.array(found)).tolist())


def _cut_fill(
    mean: FloatArray, between: FloatArray, area: FloatArray, rule: LevelRule, formation: float
) -> tuple[float, float]:
    """Return the expected cut and fill of one covariance at the level of a rule. [m³]"""
    sd = np.sqrt(np.maximum(np.diag(between), 0.0))
    if rule.kind == "fixed":
        fixed = expected_cut_fill(mean, sd, area, formation)
        return fixed.cut, fixed.fill
    weight = area / area.sum()
    level = float(weight @ mean)
    for _ in range(ROUNDS):
        across = between @ weight
        apart = np.sqrt(np.maximum(np.diag(between) - 2 * across + weight @ across, 0.0))
        level = _level(mean, apart, area, rule)
        above = expected_cut_fill(mean, apart, area, level).above
        pull = area * (rule.keep * above + 1.0 - above) if rule.kind == "balanced" else area * _density(mean, apart, level)
        weight = pull / pull.sum() if pull.sum() > 0 else weight
    free = expected_cut_fill(mean, apart, area, level)
    return free.cut, free.fill


def _density(mean: FloatArray, sd: FloatArray, level: float) -> FloatArray:
    """Return how likely the ground is to lie at a level, shape (k,). [1/m]"""
    sd = np.maximum(sd, 1e-6)
    density: FloatArray = np.exp(-0.5 * np.minimum(((mean - level) / sd) ** 2, 1e4)) / (math.sqrt(2 * math.pi) * sd)
    return density


def _level(mean: FloatArray, sd: FloatArray, area: FloatArray, rule: LevelRule) -> float:
    """Return the level at which the expected volumes, or areas, are as the rule asks, by halving. [m]"""
    spare = 4 * float(sd.max()) + (rule.bought / float(area.sum()) if rule.kind == "balanced" else 0.0)
    low, high = float(mean.min()) - spare, float(mean.max()) + spare
    for _ in range(HALVINGS):
        level = (low + high) / 2
        found = expected_cut_fill(mean, sd, area, level)
        if rule.kind == "balanced":
            too_low = rule.keep * found.cut + rule.bought > found.fill
        else:
            dug = float(area @ found.above)
            too_low = rule.cut_weight * dug > rule.fill_weight * (float(area.sum()) - dug)
        low, high = (level, high) if too_low else (low, level)
    return (low + high) / 2
