"""What a spot is to be expected to cost over every ground that the shots allow, in closed form."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from spadework.confidence.luck_raster import RasterGrounds
from spadework.confidence.nodes import pad_nodes
from spadework.confidence.volumes import Expected, expected_cut_fill
from spadework.earthwork import LevelRule
from spadework.ground.process import GroundProcess
from spadework.pad import Placement
from spadework.placement.objective import Objective
from spadework.readings import FloatArray

__all__ = ["ExpectedSpot", "expected_spot"]

NODES = 128
ROUNDS = 3
HALVINGS = 40
BALANCED = 1e-6
"""Soil left over or short by less is balanced. [m³ per m²]"""


class ExpectedSpot(NamedTuple):
    """Expected value of the goal, and expected cut and fill. [m³]"""

    value: float
    cut: float
    fill: float


def expected_spot(process: GroundProcess | RasterGrounds, objective: Objective, placement: Placement) -> ExpectedSpot:
    """Return what a spot is expected to cost, its finish level following the ground where the rule leaves it free.

    At each point ``E max(z - h, 0) = sd φ(u) + (m - h) Φ(u)``, ``u = (m - h) / sd``. A fixed level has the sd of the
    ground there. A free one is set to the ground that is found, so that what the whole pad has in common costs
    nothing: there ``sd`` is that of ``z - L``, with ``L`` the weighted mean of the ground that the level follows to
    first order (weights ``k Φ + 1 - Φ`` for a balance, ``φ / sd`` for a quantile). Soil over and short are those of the
    expected cut and fill.

    Parameters
    ----------
    process : GroundProcess or RasterGrounds
        The ground with how sure it is.
    objective : Objective
        Pad, goal and soil; its limits on heights are left out, and its goal does not count the edge.
    placement : Placement
        Where; the finish is used where the rule fixes the level.
    """
    points, area = pad_nodes(objective.pad, placement, count=NODES)
    rule = objective.rule()
    found = []
    for level, between in process.models(points):
        mean = level - objective.pad.strip
        cut, fill = _cut_fill(mean, between, area, rule, placement.finish - objective.pad.build_up.thickness)
        soil = (np.array([cut]), np.array([fill]), objective.keep, objective.reserve)
        value = float(objective.goal.values(*soil, strip=objective.strip_volume)[0])
        found.append((value, cut, fill))
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
    level, apart = float(weight @ mean), sd
    for _ in range(ROUNDS):
        across = between @ weight
        apart = np.sqrt(np.maximum(np.diag(between) - 2 * across + weight @ across, 0.0))
        level = _level(mean, apart, area, rule)
        found = expected_cut_fill(mean, apart, area, level)
        at_balance = abs(_spare(found, rule)) < BALANCED * area.sum()
        pull = area * (rule.keep * found.above + 1.0 - found.above if at_balance else _density(mean, apart, level))
        weight = pull / pull.sum() if pull.sum() > 0 else weight
    free = expected_cut_fill(mean, apart, area, level)
    return free.cut, free.fill


def _spare(found: Expected, rule: LevelRule) -> float:
    """Return the soil that is left where all that may be short is bought. [m³]"""
    bought = rule.most_short if math.isfinite(rule.most_short) else 0.0
    return rule.keep * found.cut + rule.at_hand + bought - found.fill


def _density(mean: FloatArray, sd: FloatArray, level: float) -> FloatArray:
    """Return how likely the ground is to lie at a level, shape (k,). [1/m]"""
    sd = np.maximum(sd, 1e-6)
    density: FloatArray = np.exp(-0.5 * np.minimum(((mean - level) / sd) ** 2, 1e4)) / (math.sqrt(2 * math.pi) * sd)
    return density


def _level(mean: FloatArray, sd: FloatArray, area: FloatArray, rule: LevelRule) -> float:
    """Return the level of least expected value, by halving on its slope. [m]"""
    whole = float(area.sum())
    bought = rule.most_short if math.isfinite(rule.most_short) else 0.0
    spare = 4 * float(sd.max()) + (rule.at_hand + bought) / whole
    low, high = float(mean.min()) - spare, float(mean.max()) + spare
    for _ in range(HALVINGS):
        level = (low + high) / 2
        found = expected_cut_fill(mean, sd, area, level)
        dug = float(area @ found.above)
        left = rule.keep * found.cut + rule.at_hand - found.fill
        rise = rule.fill_weight * (whole - dug) - rule.cut_weight * dug
        rise += rule.short_weight * (rule.keep * dug + whole - dug) if left < 0 else 0.0
        rise -= rule.over_weight * (dug + (whole - dug) / rule.keep) if left > 0 else 0.0
        too_high = rise > 0 or left < -rule.most_short
        low, high = (low, level) if too_high else (level, high)
    return (low + high) / 2
