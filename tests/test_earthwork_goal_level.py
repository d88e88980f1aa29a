"""The level of a goal: against a search over levels, closed forms, and the same in numpy and compiled."""

from __future__ import annotations

import math

import numpy as np
import pytest

from grounds import rough, scattered
from spadework.earthwork import LevelRule, PadLevels, Status, pad_levels_batch
from spadework.earthwork._compile import COMPILED
from spadework.ground import Ground
from spadework.pad import BuildUp, Layer, Pad

PAD = Pad.rectangle(4.0, 3.0, build_up=BuildUp((Layer("stone", 0.1),)), strip=0.05)
WEIGHTS = {
    "cut and fill": {"cut_weight": 1.0, "fill_weight": 2.5},
    "soil carted and bought": {"cut_weight": 2.0, "fill_weight": 1.0, "over_weight": 3.0, "short_weight": 5.0},
    "edge": {"cut_weight": 0.0, "fill_weight": 0.0, "wall_weight": 1.0},
    "edge and digging": {"cut_weight": 1.0, "fill_weight": 0.3, "wall_weight": 2.0},
    "all": {"cut_weight": 1.0, "fill_weight": 0.5, "over_weight": 0.5, "short_weight": 4.0, "wall_weight": 3.0},
    "none bought": {"cut_weight": 1.0, "fill_weight": 0.0, "most_short": 0.2},
    "edge, little bought": {"cut_weight": 0.5, "fill_weight": 0.5, "wall_weight": 4.0, "most_short": 0.1},
    "carting dear, soil lost": {"cut_weight": 0.1, "fill_weight": 0.0, "over_weight": 9.0, "wall_weight": 8.0},
}
POSES = np.column_stack([np.linspace(4, 20, 12), np.linspace(15, 5, 12), np.linspace(0, 170, 12)])
WAYS = [pytest.param(True, marks=pytest.mark.skipif(not COMPILED, reason="nothing is compiled here")), False]


def rule_of(weights: dict[str, float], keep: float, **limits: float) -> LevelRule:
    """Return the rule for a goal."""
    return LevelRule("goal", keep=keep, **weights, **limits)  # type: ignore[arg-type]


def worth(ground: Ground, rule: LevelRule, pose: np.ndarray, level: float) -> float:
    """Return the value at a finish level by the definition, infinite where too much soil is short."""
    found = pad_levels_batch(ground, PAD, pose[None], LevelRule("fixed", finish=level))
    cut, fill = float(found.cut[0]), float(found.fill[0])
    spare = rule.keep * cut - fill
    if -spare > rule.most_short + 1e-9:
        return math.inf
    wall = max(float(found.edge_high[0]) - level, level - float(found.edge_low[0]))
    soil = rule.over_weight * max(spare, 0.0) / rule.keep + rule.short_weight * max(-spare, 0.0)
    return rule.cut_weight * cut + rule.fill_weight * fill + soil + rule.wall_weight * wall


def found_worth(ground: Ground, rule: LevelRule, found: PadLevels, row: int) -> float:
    """Return the value at the level that was found."""
    return worth(ground, rule, POSES[row], float(found.finish[row]))


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("weights", WEIGHTS.values(), ids=WEIGHTS.keys())
@pytest.mark.parametrize("keep", [0.75, 1.0, 1.2])
def test_level_is_the_best_of_a_fine_search(weights: dict[str, float], keep: float, use_compiled: bool) -> None:
    """No level of a fine search about the ground is better than the one given."""
    ground = scattered(60, rough())
    rule = rule_of(weights, keep)
    found = pad_levels_batch(ground, PAD, POSES, rule, use_compiled=use_compiled)
    assert (found.status == Status.ALLOWED).sum() >= 8
    for row in np.flatnonzero(found.status == Status.ALLOWED)[::3]:
        low, high = found.ground_low[row] - 0.3, found.ground_high[row] + 0.3
        least = min(worth(ground, rule, POSES[row], level) for level in np.linspace(low, high, 121))
        assert found_worth(ground, rule, found, row) <= least + 1e-9


@pytest.mark.skipif(not COMPILED, reason="nothing is compiled here")
@pytest.mark.parametrize("weights", WEIGHTS.values(), ids=WEIGHTS.keys())
def test_numpy_finds_the_value_that_the_kernel_finds(weights: dict[str, float]) -> None:
    """Both ways come to one value at every pose, limits on the level or none."""
    ground = scattered(60, rough())
    for limits in ({}, {"exposed_edge": 0.25}, {"cut_depth": 0.2, "fill_depth": 0.4}):
        rule = rule_of(weights, 0.85, **limits)
        one, other = (pad_levels_batch(ground, PAD, POSES, rule, use_compiled=way) for way in (True, False))
        assert (one.status == other.status).all()
        for row in np.flatnonzero(one.status == Status.ALLOWED):
            assert found_worth(ground, rule, one, row) == pytest.approx(found_worth(ground, rule, other, row), abs=1e-9)


@pytest.mark.parametrize("use_compiled", WAYS)
def test_lowest_edge_lies_half_way(use_compiled: bool) -> None:
    """With the edge alone to count, the finish lies half way between highest and lowest ground along it."""
    ground = scattered(60, rough())
    found = pad_levels_batch(ground, PAD, POSES, rule_of(WEIGHTS["edge"], 0.9), use_compiled=use_compiled)
    covered = found.status == Status.ALLOWED
    half_way = (found.edge_low + found.edge_high) / 2
    assert found.finish[covered] == pytest.approx(half_way[covered], abs=1e-12)


@pytest.mark.parametrize("use_compiled", WAYS)
def test_flush_low_is_the_lowest_ground_along_the_edge(use_compiled: bool) -> None:
    """The finish is that of the lowest ground along the edge."""
    ground = scattered(60, rough())
    found = pad_levels_batch(ground, PAD, POSES, LevelRule("flush-low"), use_compiled=use_compiled)
    covered = found.status == Status.ALLOWED
    assert covered.any()
    assert found.finish[covered] == pytest.approx(found.edge_low[covered], abs=1e-12)


@pytest.mark.parametrize(
    ("numbers", "word"),
    [
        ({"cut_weight": 0.0, "fill_weight": 0.0}, "weights"),
        ({"wall_weight": -1.0}, "weights"),
        ({"most_short": -0.1}, "short"),
        ({"at_hand": -1.0}, "at hand"),
    ],
)
def test_goal_rule_refuses_what_is_no_goal(numbers: dict[str, float], word: str) -> None:
    """Weights below zero or all zero, and soil below zero, are faults of the caller."""
    with pytest.raises(ValueError, match=word):
        LevelRule("goal", **numbers)  # type: ignore[arg-type]
