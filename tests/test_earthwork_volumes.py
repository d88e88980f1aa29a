"""Volumes of plane pieces, and the levels that balance them."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from grounds import rough, scattered
from spadework.earthwork import (
    Pieces,
    cut_fill,
    ground_range,
    kernel,
    level_for_balance,
    level_for_weights,
    pad_pieces,
)
from spadework.earthwork._compile import compiled
from spadework.earthwork.volumes import above
from spadework.pad import Pad


def pieces_of(*rows: tuple[float, tuple[float, float, float]]) -> Pieces:
    """Pieces of one pose: area and three heights each."""
    area = np.array([row[0] for row in rows])
    height = -np.sort(-np.array([row[1] for row in rows]), axis=1)
    pose = np.zeros(len(rows), dtype=np.int64)
    return Pieces(area, height, pose, height.min(keepdims=True)[0], height.max(keepdims=True)[0])


def callable_part(part: Callable[..., Any]) -> Callable[..., Any]:
    """A part of the kernels as Python may call it: parts are compiled for their callers only."""
    return compiled(getattr(part, "py_func", part))


above_level, share_level, balance_level = map(
    callable_part, (kernel.above_level, kernel.share_level, kernel.balance_level)
)


def kernel_table(pieces: Pieces) -> tuple[np.ndarray, np.ndarray]:
    """The same pieces and their summary as the compiled kernel takes them."""
    table = np.column_stack([pieces.area, pieces.height])
    total, volume = pieces.area.sum(), (pieces.area * pieces.height.mean(axis=1)).sum()
    low, high = pieces.height.min(), pieces.height.max()
    return table, np.array([total, volume, low, high, low, high])


# Area 6 with heights 0, 1, 2: cut at the middle corner the upper and the lower half are mirror images.
ONE = (6.0, (0.0, 1.0, 2.0))


@pytest.mark.parametrize(
    ("level", "volume", "area"),
    [
        (-1.0, 12.0, 6.0),  # all above: A times mean height, 6 (1 + 2 + 3) / 3
        (0.0, 6.0, 6.0),
        (0.5, 6 - 3 + 6 * 0.5 * 0.25 * 0.5 / 3, 6 - 6 * 0.5 * 0.25),  # the tip below: t = 1/2 and 1/4 of its sides
        (1.0, 1.0, 3.0),  # one corner above, t = 1 and 1/2: area 6/2, height 1, a third of the product
        (1.5, 6 * 0.25 * 0.5 * 0.5 / 3, 6 * 0.25 * 0.5),
        (2.0, 0.0, 0.0),
        (3.0, 0.0, 0.0),
    ],
)
def test_volume_and_area_above_a_level_by_hand(level: float, volume: float, area: float) -> None:
    """A tip cut off a triangle has sides in proportion t_i, t_j, area A t_i t_j, and a third of its height as mean."""
    pieces = pieces_of(ONE)
    found = above(pieces, level)
    assert (found[0][0], found[1][0]) == pytest.approx((volume, area), abs=1e-15)
    table, _summary = kernel_table(pieces)
    assert above_level(table, 1, level)[:2] == pytest.approx((volume, area), abs=1e-15)


def test_area_at_a_level_counts_apart_from_the_area_above_it() -> None:
    """A level piece at the level is at it, and not above it."""
    pieces = pieces_of((2.0, (1.0, 1.0, 1.0)), ONE)
    _volume, strictly, too = above(pieces, 1.0)
    assert (strictly[0], too[0]) == pytest.approx((3.0, 5.0))
    table, _summary = kernel_table(pieces)
    assert above_level(table, 2, 1.0)[1:] == pytest.approx((3.0, 5.0))


def test_fill_is_what_is_below() -> None:
    """Cut and fill of heights 0, 1, 2 at level 1 are equal, and the strip lowers the ground."""
    pieces = pieces_of(ONE)
    assert [float(v[0]) for v in cut_fill(pieces, 1.0)] == pytest.approx([1.0, 1.0])
    assert [float(v[0]) for v in cut_fill(pieces, 0.5, strip=0.5)] == pytest.approx([1.0, 1.0])
    assert [float(v[0]) for v in cut_fill(pieces, 5.0)] == pytest.approx([0.0, 6 * 4])


STEP = ((3.0, (5.0, 5.0, 5.0)), (3.0, (4.0, 4.0, 4.0)))


@pytest.mark.parametrize(
    ("pieces", "cut_weight", "fill_weight", "expected"),
    [
        (pieces_of(*STEP), 1.0, 1.0, 4.5),  # any level between the steps costs the same: the middle of them
        (pieces_of(*STEP), 1.0, 2.0, 4.0),  # two thirds of the pad are to lie above: only the lower step has that
        (pieces_of(*STEP), 2.0, 1.0, 5.0),
        (pieces_of((1.0, (7.0, 7.0, 7.0))), 3.0, 1.0, 7.0),  # level ground: its own level
        (pieces_of(*STEP), 1.0, 0.0, 5.0),  # only digging costs: nothing is dug
        (pieces_of(*STEP), 0.0, 1.0, 4.0),
        (pieces_of((1.0, (0.0, 1.0, 1.0)), (1.0, (3.0, 3.0, 4.0))), 1.0, 1.0, 2.0),  # a gap between two slopes
        (pieces_of((1.0, (3.0, 3.0, 4.0)), (1.0, (0.0, 1.0, 1.0))), 1.0, 1.0, 2.0),  # the same, come upon from above
    ],
)
def test_weighted_level_where_the_ground_has_steps(
    pieces: Pieces, cut_weight: float, fill_weight: float, expected: float
) -> None:
    """On steps the share jumps: the level is the step, or the middle of a gap in which every level costs the same."""
    assert level_for_weights(pieces, cut_weight, fill_weight)[0] == pytest.approx(expected, abs=1e-14)
    table, summary = kernel_table(pieces)
    over = summary[0] * fill_weight / (cut_weight + fill_weight)
    assert share_level(table, len(table), over, summary) == pytest.approx(expected, abs=1e-14)


@pytest.mark.parametrize("high_share", [0.2, 0.5, 0.9])
def test_cut_and_fill_of_a_step_is_its_smaller_side(high_share: float) -> None:
    """A step of height H with the share q high costs min(q, 1 - q) A H at best."""
    area, height = 8.0, 0.6
    pieces = pieces_of((area * high_share, (height, height, height)), (area * (1 - high_share), (0.0, 0.0, 0.0)))
    cut, fill = cut_fill(pieces, level_for_weights(pieces, 1.0, 1.0))
    assert cut[0] + fill[0] == pytest.approx(min(high_share, 1 - high_share) * area * height, abs=1e-13)


@pytest.mark.parametrize("keep", [1.0, 0.7, 1.4])
@pytest.mark.parametrize("bought", [0.0, 2.5, 40.0])
def test_balanced_level_on_steps(keep: float, bought: float) -> None:
    """Whatever the ground, keep cut + bought = fill at the level found, in numpy and in the kernel."""
    pieces = pieces_of(*STEP, ONE)
    table, summary = kernel_table(pieces)
    for level in (
        level_for_balance(pieces, keep, bought=bought),
        balance_level(table, 3, keep, bought, summary),
    ):
        cut, fill = cut_fill(pieces, level)
        assert keep * cut[0] + bought == pytest.approx(fill[0], abs=1e-12)


def test_no_level_nearby_costs_less_than_the_weighted_one() -> None:
    """A hair above and below the level found the weighted sum is not smaller, for sixty poses and three weights."""
    ground = scattered(200, rough())
    poses = np.random.default_rng(1).uniform([5, 5, 0], [25, 35, 360], (60, 3))
    pieces = pad_pieces(ground, Pad.rectangle(5, 3), poses)
    for cut_weight, fill_weight in ((1.0, 1.0), (1.0, 4.0), (3.0, 0.5)):

        def cost(level: np.ndarray, c: float = cut_weight, f: float = fill_weight) -> np.ndarray:
            cut, fill = cut_fill(pieces, level)
            return c * cut + f * fill

        level = level_for_weights(pieces, cut_weight, fill_weight)
        best = cost(level)
        for step in (1e-6, 1e-4, 1e-2):
            assert (cost(level + step) >= best - 1e-13).all()
            assert (cost(level - step) >= best - 1e-13).all()


def test_ground_range_is_mean_lowest_and_highest() -> None:
    """Of heights 0, 1, 2 and a step at 5: area-weighted mean, ends."""
    mean, low, high = ground_range(pieces_of(ONE, (3.0, (5.0, 5.0, 5.0))))
    assert (mean[0], low[0], high[0]) == pytest.approx(((6 * 1 + 3 * 5) / 9, 0.0, 5.0))


def test_tiny_heights_do_not_divide_zero_by_zero() -> None:
    """Heights far below rounding give volumes of nothing, not NaN."""
    pieces = pieces_of((1.0, (1e-200, 0.0, -1e-200)))
    assert above(pieces, 0.0)[0][0] == pytest.approx(0.0)
    table, summary = kernel_table(pieces)
    assert above_level(table, 1, 0.0)[0] == pytest.approx(0.0)
    assert np.isfinite(share_level(table, 1, 0.5, summary))
