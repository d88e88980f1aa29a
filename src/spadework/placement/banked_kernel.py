"""The compiled lower bound over boxes of placements of a pad with banks: plain arrays, no checks.

With ``x`` the height of the ground above the level, ``d`` the distance from the pad, weights ``C`` and ``F`` of cut
and fill, each place adds ``C max(x - s d, 0) + F max(-x - f d, 0)``. That is convex in ``x``: the greatest, over all
weights ``w`` between ``-F`` and ``C``, of ``w x`` less a number that hangs on ``w`` and ``d`` alone, and ``d`` goes
with the pad. So the weights that are best at the centre of a box give ``G = ∫ w(q) z(pose(q)) dq`` and a constant,
which no pose of the box lies under, wherever its level; at the centre the two are equal. Where soil over or short
counts, or is limited, a trade between cut and fill is frozen with the weights; both stay not negative, for only then
is every place convex. Where the weights sum to nothing the level does not matter; where a limit holds it they need
not, and the end of the range of levels that the box leaves counts. ``G`` is then bounded as for vertical sides.

Where the level is given or flush, soil over or short may count more than such weights can hold. There a bound of
another kind stands beside: cut and fill change by no more than the shift times the slopes under what is dug or made up,
and with the level by no more than their areas.

The range of levels of a box: the limits on the level, loosened by how far ground and land move under the pad.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled, compiled_part
from spadework.earthwork.bank_arrays import BankArrays
from spadework.earthwork.bank_best_level import balance, flat, goal_level
from spadework.earthwork.bank_kernel import totals_at
from spadework.earthwork.bank_land_kernel import land_levels
from spadework.earthwork.bank_levels_kernel import LEAST_SPAN
from spadework.earthwork.level_kernel import AT_HAND, CUT, FILL, KEEP, MOST_OVER, MOST_SHORT, OVER, SHORT
from spadework.placement.banked_bends import bends_under_banks, rough_under_banks
from spadework.placement.banked_pieces import COLUMNS, BankedParts, banked_rows, near_rows, weighed
from spadework.placement.mesh import Mesh
from spadework.readings import FloatArray, IntArray

__all__ = ["bound_banked"]

SAFE = 1e-9
ROUNDING = 1e-9
ROUNDS = 12


@compiled
def bound_banked(
    mesh: Mesh,
    parts: BankedParts,
    bank: BankArrays,
    reach: float,
    boxes: FloatArray,
    levels: FloatArray,
    rule: FloatArray,
    ends: FloatArray,
    beyond: IntArray,
    result: FloatArray,
) -> None:
    """Write a lower bound of the value over each box, and the value at its centre, turf left out.

    Parameters
    ----------
    parts, bank
        The pad and the plan about it; the parts of the banks with the land.
    reach : float
        Distance of the pad's farthest corner from its origin. [m]
    boxes : array, shape (k, 6)
        As in `bound_boxes`.
    levels : array, shape (k, 6)
        Lowest and highest level that the limits allow at the centre, whatever the land; by how many metres both give
        way for each metre that the pad moves, as a share of the steepest slope there; 1 where the level is given, 2
        where it goes with the ground; lowest and highest ground under the pad. Levels are those of unstripped ground at
        the formation. [m]
    rule : array, shape (18,)
        As `LevelRule.numbers` gives it.
    ends : array, shape (2,)
        Lowest and highest ground of the site. [m]
    beyond : array of int, shape (t,)
        1 for triangles that the bound must not rest on.
    result : array, shape (k, 3)
        Written: bound, minus infinity where there is none, infinity where no pose has a level; value at the centre, NaN
        where it was not wanted; triangles under the box.
    """
    width = 8
    for p in range(parts.part.shape[0] - 1):
        width = max(width, 4 + parts.part[p + 1] - parts.part[p])
    polygon, corner_room = np.empty((2, width, 3)), np.empty((2, 8, 3))
    near, cut, fill = np.empty((128, 10)), np.empty((256, COLUMNS)), np.empty((256, COLUMNS))
    cones, counts, own = np.empty((1, 9)), np.zeros(3, dtype=np.int64), np.zeros(2, dtype=np.int64)
    pose, area, swept, motion = np.empty(4), np.empty(4), np.empty(4), np.empty(5)
    totals, sums, rough, weights = np.empty(6), np.empty(5), np.empty(5), np.empty(4)
    slopes = (parts.cut_slope, parts.fill_slope)
    # A level that is held has tables of its own.
    held_near, held_cut, held_fill = np.empty((128, 10)), np.empty((256, COLUMNS)), np.empty((256, COLUMNS))
    held_counts = np.zeros(3, dtype=np.int64)
    for k in range(boxes.shape[0]):
        result[k, 0], result[k, 1], result[k, 2] = -np.inf, np.nan, 0.0
        a, b, d = boxes[k, 3], boxes[k, 4], boxes[k, 5]
        sine, cosine = math.sin(boxes[k, 2]), math.cos(boxes[k, 2])
        pose[0], pose[1], pose[2], pose[3] = boxes[k, 0], boxes[k, 1], sine, cosine
        motion[0], motion[1], motion[2], motion[3], motion[4] = sine, cosine, a, b, d
        shift = math.sqrt(a * a + b * b)
        given = levels[k, 3] == 1.0
        for j in range(4):
            area[j] = bank.wide[j] + (-1.0 if j % 2 == 0 else 1.0) * (shift + reach * d)
        near, count = near_rows(mesh, pose, area, near)
        rough_under_banks(near, count, area, 0.0, 0.0, corner_room, rough)
        # Limits that go with the ground give way as far as it can rise or fall under the pad.
        give = levels[k, 2] * rough[3] * (shift + reach * d)
        lowest, highest = levels[k, 0] - give, levels[k, 1] + give
        if math.isnan(lowest) or math.isnan(highest):
            lowest, highest = -np.inf, np.inf
        if lowest > highest + SAFE:
            result[k, 0] = np.inf
            continue
        under, over = levels[k, 4], levels[k, 5]
        if math.isnan(under):
            under, over = ends[0], ends[1]
        low = max(min(under - LEAST_SPAN, highest), lowest)
        high = min(max(over + LEAST_SPAN, lowest), highest)
        hard_low, hard_high = lowest, highest
        level, none = 0.0, False
        for _ in range(ROUNDS):
            far = max((ends[1] - low) / slopes[0], (high - ends[0]) / slopes[1])
            if far > bank.reach:
                none = True
                break
            least, most = land_levels(bank, pose, far)
            # The land stays where it is, and no place of it comes nearer to the pad than this.
            moved = shift + (reach + far) * d
            hard_low, hard_high = max(lowest, least - slopes[0] * moved), min(highest, most + slopes[1] * moved)
            if hard_low > hard_high + SAFE:
                break
            low, high = max(low, min(hard_low, high)), min(high, max(hard_high, low))
            for j in range(4):
                out = bank.beyond[j] * far + shift + (reach + 2.0 * far) * d
                area[j] = bank.wide[j] + (-out if j % 2 == 0 else out)
            near, count = near_rows(mesh, pose, area, near)
            cut, fill = banked_rows(parts, near, count, low, high, polygon, cut, fill, counts)
            bottom, top = hard_low, hard_high
            if rule[MOST_SHORT] < np.inf and not given:
                bought = rule[AT_HAND] + rule[MOST_SHORT]
                top = min(top, balance(cut, fill, cones, counts, own, slopes, low, high, rule[KEEP], bought, totals))
            if rule[MOST_OVER] < np.inf and not given:
                carted = rule[AT_HAND] - rule[KEEP] * rule[MOST_OVER]
                bottom = max(
                    bottom, balance(cut, fill, cones, counts, own, slopes, low, high, rule[KEEP], carted, totals)
                )
            level = goal_level(cut, fill, cones, counts, own, slopes, low, high, rule, totals)
            level = min(max(min(max(level, bottom), top), hard_low), hard_high)
            down, up = level <= low and low > hard_low, level >= high and high < hard_high
            if not (down or up):
                break
            span = max(high - low, LEAST_SPAN)
            low = max(low - span, hard_low) if down else low
            high = min(high + span, hard_high) if up else high
        result[k, 2] = count
        if hard_low > hard_high + SAFE:
            result[k, 0] = np.inf
            continue
        if levels[k, 3] > 0.0 and levels[k, 0] == levels[k, 1]:
            result[k, 0] = _held(
                mesh, parts, bank, pose, reach, motion, levels[k], rule, ends, beyond, held_near, held_cut, held_fill,
                polygon, corner_room, held_counts,
            )  # fmt: skip
        if none or not low - SAFE <= level <= high + SAFE:
            continue
        level = _trade(
            cut, fill, cones, counts, own, slopes, low, high, hard_low, hard_high, level, rule, totals, weights
        )
        for j in range(5):
            sums[j] = 0.0
        swept[0], swept[1], swept[2], swept[3] = 0.0, 0.0, 0.0, 0.0
        arm = weighed(cut, counts[0], level, weights[0], sums, swept, 0.0)
        arm = weighed(fill, counts[1], -level, -weights[1], sums, swept, arm)
        moved = shift + arm * d
        for j in range(4):
            swept[j] += -moved if j % 2 == 0 else moved
        touched = swept[0] < area[0] or swept[1] > area[1] or swept[2] < area[2] or swept[3] > area[3]
        for t in range(count):
            one = near[t]
            if beyond[int(one[9])] == 0 or touched:
                continue
            apart = min(one[0], one[2], one[4]) > swept[1] or max(one[0], one[2], one[4]) < swept[0]
            apart |= min(one[1], one[3], one[5]) > swept[3] or max(one[1], one[3], one[5]) < swept[2]
            touched |= not apart
        if touched:
            continue
        rough_under_banks(near, count, swept, 0.0, 0.0, corner_room, rough)
        whole = (swept[1] - swept[0]) * (swept[3] - swept[2])
        if rough[0] < whole * (1.0 - 1e-6):
            continue
        mean_u, mean_v, steepest = rough[1] / rough[0], rough[2] / rough[0], rough[3]
        rough_under_banks(near, count, swept, mean_u, mean_v, corner_room, rough)
        plane, moment = math.sqrt(mean_u * mean_u + mean_v * mean_v), math.sqrt(sums[3] ** 2 + sums[4] ** 2)
        value, largest = weights[2], max(weights[0], weights[1])
        east, north = sums[0] * sine + sums[1] * cosine, sums[0] * cosine - sums[1] * sine
        second = value - abs(east) * a - abs(north) * b - abs(sums[2]) * d
        second -= 0.5 * d * d * (plane * moment + largest * arm * rough[4])
        second -= 0.5 * bends_under_banks(
            mesh, parts, near, count, swept, motion, weights[0], weights[1], level, arm, steepest * moved
        )
        first = value - largest * moved * rough[4]
        first -= abs(weights[3]) * (abs(mean_u * sine + mean_v * cosine) * a + abs(mean_u * cosine - mean_v * sine) * b)
        if plane > 0.0 and moment > 0.0:
            along = mean_u * sums[3] + mean_v * sums[4]
            angle = math.acos(min(max(along / (plane * moment), -1.0), 1.0))
            first -= along - plane * moment * math.cos(min(angle + d, math.pi))
        rounding = ROUNDING * abs(value) + 1e-13 * whole + ROUNDING * largest * whole * moved * plane
        result[k, 0], result[k, 1] = max(result[k, 0], max(first, second) - rounding), value


@compiled_part
def _held(
    mesh: Mesh,
    parts: BankedParts,
    bank: BankArrays,
    pose: FloatArray,
    reach: float,
    motion: FloatArray,
    levels: FloatArray,
    rule: FloatArray,
    ends: FloatArray,
    beyond: IntArray,
    near: FloatArray,
    cut: FloatArray,
    fill: FloatArray,
    polygon: FloatArray,
    room: FloatArray,
    counts: IntArray,
) -> float:
    """Return the value at the centre at a level that is held, less the most that it can change by within the box."""
    level = levels[0]
    far = max((ends[1] - level) / parts.cut_slope, (level - ends[0]) / parts.fill_slope)
    if not far <= bank.reach:
        return -math.inf
    shift, d = math.sqrt(motion[2] ** 2 + motion[3] ** 2), motion[4]
    area, swept, sums, totals = np.empty(4), np.zeros(4), np.zeros(5), np.empty(6)
    for j in range(4):
        out = 2.0 * bank.beyond[j] * far + shift + 2.0 * (reach + 2.0 * far) * d
        area[j] = bank.wide[j] + (-out if j % 2 == 0 else out)
    near, count = near_rows(mesh, pose, area, near)
    cut, fill = banked_rows(parts, near, count, level, level, polygon, cut, fill, counts)
    own = np.zeros(2, dtype=np.int64)
    slopes = (parts.cut_slope, parts.fill_slope)
    totals_at(cut, fill, np.empty((1, 9)), counts, own, slopes, level, totals)
    arm = weighed(cut, counts[0], level, 0.0, sums, swept, 0.0)
    arm = weighed(fill, counts[1], -level, 0.0, sums, swept, arm)
    rough = np.empty(5)
    # What is dug or made up anywhere in the box is looked for so far about what is at the centre; if it may reach
    # farther there is no such bound.
    most = shift + arm * d
    room_about = 6.0 * most
    for j in range(4):
        swept[j] += -room_about if j % 2 == 0 else room_about
    if swept[0] < area[0] or swept[1] > area[1] or swept[2] < area[2] or swept[3] > area[3]:
        return -math.inf
    rough_under_banks(near, count, swept, 0.0, 0.0, room, rough)
    steepest, gentlest = rough[3], min(parts.cut_slope, parts.fill_slope)
    if most > 0.0 and steepest >= 0.9 * gentlest:
        return -math.inf
    # Ground that moves under the pad by as much as its slope lets it is met so much farther out.
    give = steepest * (shift + reach * d) if levels[3] == 2.0 else 0.0
    moved, deeper = most, 0.0
    if most > 0.0:
        # The arm grows with it: moved = shift + (arm + 2 deeper) d, deeper = (steepest moved + give) / spare slope.
        spare_slope = gentlest - steepest
        grows = 2.0 * d * steepest / spare_slope
        if grows >= 0.5:
            return -math.inf
        moved = (most + 2.0 * d * give / spare_slope) / (1.0 - grows)
        deeper = (steepest * moved + give) / spare_slope
    widest = max(bank.beyond[0], bank.beyond[1], bank.beyond[2], bank.beyond[3])
    if moved + 2.0 * widest * deeper > room_about:
        return -math.inf
    for t in range(count):
        if beyond[int(near[t, 9])] != 0:
            return -math.inf
    rough_under_banks(near, count, swept, 0.0, 0.0, room, rough)
    whole = (swept[1] - swept[0]) * (swept[3] - swept[2])
    if rough[0] < whole * (1.0 - 1e-6):
        return -math.inf
    c, f, keep = rule[CUT], rule[FILL], rule[KEEP]
    largest = max(c + rule[OVER], abs(c - keep * rule[SHORT]), abs(f - rule[OVER] / keep), f + rule[SHORT])
    spare = keep * totals[0] + rule[AT_HAND] - totals[2]
    value = c * totals[0] + f * totals[2] + rule[OVER] * max(spare, 0.0) / keep + rule[SHORT] * max(-spare, 0.0)
    return float(value - largest * (moved * rough[4] + give * whole) - ROUNDING * (abs(value) + largest * whole))


@compiled_part
def _trade(
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
    own: IntArray,
    slopes: tuple[float, float],
    low: float,
    high: float,
    hard_low: float,
    hard_high: float,
    level: float,
    rule: FloatArray,
    totals: FloatArray,
    weights: FloatArray,
) -> float:
    """Write the weights of cut and fill that are frozen, the value that they give at the centre, and what they sum to.

    Returns the level that they are best at. The trade is what a compacted volume over adds to the value. Where the
    level is stationary it is the one trade that holds the level there; where a limit holds the level, that of soil over
    or short as it lies there. Weights that sum to more or less than nothing where no limit holds the level are scaled
    down on the heavier side.
    """
    c, f, keep = rule[CUT], rule[FILL], rule[KEEP]
    totals_at(cut, fill, cones, counts, own, slopes, level, totals)
    spare = keep * totals[0] + rule[AT_HAND] - totals[2]
    slope = keep * totals[1] + totals[3]
    trade = (f * totals[3] - c * totals[1]) / slope if slope > 0.0 else 0.0
    at_low, at_high = level <= hard_low + SAFE, level >= hard_high - SAFE
    near_balance = abs(spare) <= 1e-9 * (1.0 + totals[0] + totals[2])
    if (at_low or at_high) and not near_balance:
        trade = rule[OVER] / keep if spare > 0.0 else -rule[SHORT]
    least = -rule[SHORT] if rule[MOST_SHORT] == np.inf else -np.inf
    most = rule[OVER] / keep if rule[MOST_OVER] == np.inf else np.inf
    # Cut and fill must both keep weights that are not negative, or some place is not convex.
    trade = min(max(trade, least, -c / keep), most, f)
    up, down = max(c + trade * keep, 0.0), max(f - trade, 0.0)
    if low < high:
        level = min(max(flat(cut, fill, cones, counts, own, slopes, low, high, up, down, totals), hard_low), hard_high)
        at_low, at_high = level <= hard_low + SAFE, level >= hard_high - SAFE
    totals_at(cut, fill, cones, counts, own, slopes, level, totals)
    heavy, light = up * totals[1], down * totals[3]
    weights[3] = 0.0
    if heavy > light and not at_high:
        up *= light / heavy
    elif light > heavy and not at_low:
        down *= heavy / light
    else:
        weights[3] = heavy - light
    weights[0], weights[1] = up, down
    value = up * totals[0] + down * totals[2] + trade * rule[AT_HAND]
    if weights[3] > 0.0:
        value -= (hard_high - level) * weights[3]
    elif weights[3] < 0.0:
        value -= (hard_low - level) * weights[3]
    if trade < -rule[SHORT]:
        value -= (-rule[SHORT] - trade) * rule[MOST_SHORT]
    if trade > rule[OVER] / keep:
        value -= (trade * keep - rule[OVER]) * rule[MOST_OVER]
    weights[2] = value
    return level
