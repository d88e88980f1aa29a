"""Many grounds at once against one at a time, against every level of a fine scale, and against planes."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.earthwork import LevelRule
from spadework.earthwork._compile import COMPILED
from spadework.earthwork.many_grounds import ManyGrounds, ManyLevels, PadPoints

STRIP, THICKNESS = 0.05, 0.1


def points_of(long: float = 4.0, wide: float = 3.0, rows: int = 6) -> PadPoints:
    """A rectangle asked at the middles of its squares and along its edge."""
    u, v = ((np.arange(rows) + 0.5) / rows - 0.5, (np.arange(rows) + 0.5) / rows - 0.5)
    inner = np.stack(np.meshgrid(u * wide, v * long), axis=-1).reshape(-1, 2)
    corners = np.array([[-1, -1], [-1, 1], [1, 1], [1, -1]]) * [wide / 2, long / 2]
    edge = np.vstack([corners, (corners + np.roll(corners, -1, axis=0)) / 2])
    return PadPoints(inner, np.full(len(inner), long * wide / len(inner)), edge)


def grounds_of(count: int = 40) -> ManyGrounds:
    """Rough grounds of 15 m by 12 m."""
    draw = np.random.default_rng(7)
    return ManyGrounds(100.0, 50.0, 0.5, 31, 25, 80 + draw.normal(0.0, 0.15, (31 * 25, count)))


POSES = np.array([[104.0, 54.0, 0.0], [108.0, 56.0, 33.0], [109.5, 57.0, 120.0]])
RULES = {
    "balanced": LevelRule("balanced", keep=0.9, bought=0.2),
    "goal": LevelRule("goal", keep=0.9, cut_weight=2.0, fill_weight=1.0, over_weight=3.0, short_weight=4.0),
    "edge": LevelRule("goal", keep=0.9, cut_weight=0.1, fill_weight=0.1, wall_weight=5.0),
    "none bought": LevelRule("goal", keep=0.9, cut_weight=1.0, fill_weight=0.0, most_short=0.0, at_hand=0.1),
    "little carted": LevelRule("goal", keep=0.9, cut_weight=0.1, fill_weight=2.0, most_over=0.05),
    "fixed": LevelRule("fixed", finish=80.1),
    "flush": LevelRule("flush"),
    "held": LevelRule("goal", keep=0.9, cut_weight=1.0, fill_weight=1.0, cut_depth=0.25),
}


def worked(rule: LevelRule, *, use_compiled: bool | None = None, first: int = 0, width: int = 40) -> ManyLevels:
    """The three poses on the grounds."""
    at = np.full(len(POSES), first)
    return grounds_of().work_out(
        points_of(), POSES, at, width, rule, thickness=THICKNESS, strip=STRIP, use_compiled=use_compiled
    )


@pytest.mark.skipif(not COMPILED, reason="nothing is compiled here")
@pytest.mark.parametrize("name", RULES)
def test_kernel_and_twin_agree_when_both_work_out_the_same(name: str) -> None:
    """Compiled and with numpy."""
    one, other = worked(RULES[name], use_compiled=True), worked(RULES[name], use_compiled=False)
    for column in ("formation", "cut", "fill", "ground_low", "ground_high", "edge_low", "edge_high", "held"):
        assert getattr(one, column) == pytest.approx(getattr(other, column), abs=2e-8, nan_ok=True), column


def test_a_ground_does_not_depend_on_those_beside_it_when_asked_alone() -> None:
    """The seventh ground alone is the seventh of all."""
    every, alone = worked(RULES["goal"]), worked(RULES["goal"], first=6, width=1)
    assert alone.cut[:, 0] == pytest.approx(every.cut[:, 6], abs=1e-12)


def value(rule: LevelRule, heights: np.ndarray, edge: np.ndarray, level: float) -> float:
    """The goal at one level, term by term as `LevelRule` says; infinite where too much soil is short or left over."""
    area = points_of().area
    cut, fill = area @ np.maximum(heights - level, 0), area @ np.maximum(level - heights, 0)
    spare = rule.keep * cut + rule.at_hand - fill
    finish = level + THICKNESS
    wall = max(edge.max() - finish, finish - edge.min())
    if -spare > rule.most_short + 1e-6 or spare > rule.keep * rule.most_over + 1e-6:
        return np.inf
    soil = rule.cut_weight * cut + rule.fill_weight * fill
    return (
        soil
        + rule.over_weight * max(spare, 0) / rule.keep
        + rule.short_weight * max(-spare, 0)
        + rule.wall_weight * wall
    )


@pytest.mark.parametrize("name", ["goal", "edge", "none bought", "little carted"])
def test_no_level_is_better_when_every_level_of_a_scale_is_tried(name: str) -> None:
    """Brute force over levels a millimetre apart, on bilinear heights of its own."""
    rule, grounds, points = RULES[name], grounds_of(), points_of()
    found = worked(rule)
    places = points.at(POSES)
    for pose in range(len(POSES)):
        for ground in (0, 17):
            field = grounds.levels[:, ground].reshape(25, 31)
            across, up = (places[pose, :, 0] - 100.0) / 0.5, (places[pose, :, 1] - 50.0) / 0.5
            i, j = up.astype(int), across.astype(int)
            u, v = across - j, up - i
            south = (1 - u) * field[i, j] + u * field[i, j + 1]
            heights = (1 - v) * south + v * ((1 - u) * field[i + 1, j] + u * field[i + 1, j + 1])
            stripped, edge = heights[: len(points.area)] - STRIP, heights[len(points.area) :]
            scale = np.arange(79.2, 80.8, 0.001)
            least = min(value(rule, stripped, edge, level) for level in scale)
            level = found.formation[pose, ground]
            mine = min(value(rule, stripped, edge, level + step) for step in (-1e-9, 1e-9))  # at a limit, inside it
            assert mine <= least + 1e-4
            assert mine >= least - 0.002 * 12 * 8  # a millimetre of level over the pad, at the dearest weight


def test_a_plane_is_halved_when_cut_makes_the_fill() -> None:
    """On a plane the balanced level is that of the middle, and rectangles of points give cut = A s L / 8 to 3 %."""
    grounds = grounds_of(1)
    mesh = np.stack(np.meshgrid(100 + 0.5 * np.arange(31), 50 + 0.5 * np.arange(25)), axis=-1).reshape(-1, 2)
    plane = ManyGrounds(100.0, 50.0, 0.5, 31, 25, (mesh[:, 1] * 0.1)[:, None])
    found = plane.work_out(
        points_of(rows=20), POSES[:1], np.zeros(1, int), 1, LevelRule("balanced"), thickness=0.0, strip=0.0
    )
    assert grounds.levels.shape == (775, 1)
    assert found.formation[0, 0] == pytest.approx(5.4, abs=1e-9)
    assert found.cut[0, 0] == pytest.approx(12 * 0.1 * 4 / 8, rel=0.03)
