"""The core of a box of placements, the part of the pad common to all of them, and what it costs by itself.

The kept machine code of `bound_kernel` holds a copy: empty ``__pycache__`` after a change here.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner
from spadework.earthwork.arrays import PadArrays
from spadework.placement.bound_dual import (
    CUT,
    CUT_DEPTH,
    EXPOSED,
    FILL,
    FILL_DEPTH,
    GOAL_TRADE,
    HIGHEST,
    KEEP,
    KIND,
    LEAST_TRADE,
    LEVEL,
    LOWEST,
    MOST_TRADE,
    RISE,
    dual_value,
)
from spadework.placement.bound_ground import pad_pieces_near
from spadework.readings import FloatArray

__all__ = ["COVERED", "FIXED", "FLUSH", "FLUSH_LOW", "ROUNDING", "core_of", "draw_in", "level_let_loose"]

ROUNDING = 1e-9
"""Share of the terms of a bound that is taken off for rounding."""
COVERED = 1e-7
"""Share of the area of the pad that may be missing by rounding."""
FIXED, FLUSH, FLUSH_LOW = 1.0, 2.0, 3.0
"""How the finish goes, as `bound_boxes` counts it."""


@compiled_inner
def level_let_loose(rule: FloatArray, loose: FloatArray) -> bool:
    """Write the rule with the level free, whose value is no higher; say whether it serves where the level is given."""
    loose[KIND] = 0.0
    if rule[LEAST_TRADE] < rule[GOAL_TRADE]:
        loose[LEAST_TRADE] = -np.inf
        if rule[KEEP] > 1.0:
            loose[LEAST_TRADE] = -(rule[CUT] + rule[FILL]) / (rule[KEEP] - 1.0)
    return bool(rule[KIND] > 0.0 and loose[MOST_TRADE] > loose[LEAST_TRADE])


@compiled_inner
def draw_in(pad: PadArrays, motion: FloatArray, share: float, place: int, shrink: FloatArray) -> None:
    """Write, from a place on, by how much each side is drawn in about what all poses of a share of the box have."""
    turn = min(share * motion[4], 0.5 * math.pi)
    turn_sine, turn_cosine = math.sin(turn), math.cos(turn)
    for j in range(pad.sides.shape[0]):
        x, y = pad.sides[j, 0], pad.sides[j, 1]
        across = 0.0
        for i in range(pad.corners.shape[0]):
            across = max(across, abs(x * pad.corners[i, 1] - y * pad.corners[i, 0]))
        slid = abs(x * motion[0] + y * motion[1]) * motion[2] + abs(x * motion[1] - y * motion[0]) * motion[3]
        shrink[place + j] = share * slid + across * turn_sine + (1.0 - turn_cosine) * pad.reach


@compiled_inner
def core_of(
    near: FloatArray,
    count: int,
    pad: PadArrays,
    motion: FloatArray,
    shrink: FloatArray,
    room: FloatArray,
    pieces: FloatArray,
    rule: FloatArray,
    levels: FloatArray,
    far: float,
    weights: FloatArray,
) -> float:
    """Cut out the core, its sides drawn in as far as any pose of the box moves them, and return its bound.

    The weight of the height of the edge is not in the ``rule``.
    """
    draw_in(pad, motion, 1.0, 0, shrink)
    made = pad_pieces_near(near, count, pad, shrink, room, pieces)
    return _core(pieces, made, rule, levels, far, weights, pad.area) if made > 0 else -np.inf


@compiled_inner
def _core(
    pieces: FloatArray,
    made: int,
    rule: FloatArray,
    levels: FloatArray,
    far: float,
    weights: FloatArray,
    area: float,
) -> float:
    """Return what a part of the pad costs by itself, at the best level that any pose of the box may have.

    A part costs no more than the whole where neither volume lowers the value. No height along the edge changes by more
    than ``far`` within the box.
    """
    low, high = rule[LOWEST], rule[HIGHEST]
    lowest, highest = np.inf, -np.inf
    for i in range(made):
        lowest, highest = min(lowest, pieces[i, 9]), max(highest, pieces[i, 3])
    if rule[KIND] == FIXED:
        low = high = rule[LEVEL]
    elif rule[KIND] >= FLUSH:
        level = (levels[4] if rule[KIND] == FLUSH else levels[5]) - rule[RISE]
        low, high = level - far, level + far
    else:
        low = max(low, highest - rule[CUT_DEPTH])
        high = min(high, lowest + rule[FILL_DEPTH])
        if rule[EXPOSED] < np.inf:
            high = min(high, levels[5] + far + rule[EXPOSED] - rule[RISE])
    if low > high:
        return -np.inf
    value = dual_value(pieces, made, rule, low, high, 0.0, 0.0, weights)
    if min(weights[0], weights[1]) < 0.0:
        return -np.inf
    return value - ROUNDING * abs(value) - 1e-13 * area
