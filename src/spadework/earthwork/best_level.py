"""The level of least value of a goal, for many poses at once without a compiler: every candidate is tried."""

from __future__ import annotations

import numpy as np

from spadework.earthwork.level_kernel import AT_HAND, CUT, FILL, KEEP, MOST_OVER, MOST_SHORT, OVER, SHORT, WALL
from spadework.earthwork.pieces import Pieces
from spadework.earthwork.volumes import cut_fill, level_for_balance, level_for_weights
from spadework.readings import FloatArray

__all__ = ["best_level"]

THICKNESS, STRIP = 5, 6


def best_level(pieces: Pieces, rule: FloatArray, least: FloatArray, most: FloatArray) -> FloatArray:
    """Return the formation of least value of each pose between its limits, above the datum.

    The value is piecewise smooth in the level, with kinks where the soil balances and where the edge is retained as
    high above as below. Its least lies at a limit, at a kink, or where its slope is nothing: there the area above the
    level has one of four shares. All of them are tried.

    Parameters
    ----------
    pieces : Pieces
        Every pose must have ground.
    rule : array, shape (18,)
        As `LevelRule.numbers` gives it.
    least, most : array, shape (k,)
        Limits of the formation. [m]
    """
    keep, strip, thickness = rule[KEEP], rule[STRIP], rule[THICKNESS]
    total = pieces.sum(pieces.area)
    top = most
    if np.isfinite(rule[MOST_SHORT]):
        enough = level_for_balance(pieces, keep, strip, rule[AT_HAND] + rule[MOST_SHORT]) - pieces.datum
        top = np.minimum(most, enough)
    bottom = least
    if np.isfinite(rule[MOST_OVER]):
        over = level_for_balance(pieces, keep, strip, rule[AT_HAND] - keep * rule[MOST_OVER]) - pieces.datum
        bottom = np.maximum(least, over)
    tried = [0.5 * (pieces.edge_low + pieces.edge_high) - thickness]
    tried.append(level_for_balance(pieces, keep, strip, rule[AT_HAND]) - pieces.datum)
    pairs = (
        (rule[CUT] + rule[OVER], rule[FILL] - rule[OVER] / keep),
        (rule[CUT] - keep * rule[SHORT], rule[FILL] + rule[SHORT]),
    )
    for a, b in pairs:
        for wall in {rule[WALL], -rule[WALL]}:
            share = (b + wall / total.mean()) / (a + b) if a + b > 0 else np.nan
            if 0 < share < 1:
                tried.append(level_for_weights(pieces, 1 - share, share, strip) - pieces.datum)
    tried += [np.full(len(pieces), end) for end in (-np.inf, np.inf)]
    best, value = np.full(len(pieces), np.nan), np.full(len(pieces), np.inf)
    for level in tried:
        held = np.minimum(np.maximum(np.minimum(np.maximum(level, bottom), top), least), most)
        usable = np.isfinite(held)
        worth = _worth(pieces, rule, np.where(usable, held, 0.0))
        better = usable & (worth < value)
        best, value = np.where(better, held, best), np.where(better, worth, value)
    return best


def _worth(pieces: Pieces, rule: FloatArray, formation: FloatArray) -> FloatArray:
    """Return the value of the goal."""
    cut, fill = cut_fill(pieces, formation + pieces.datum, rule[STRIP])
    spare = rule[KEEP] * cut + rule[AT_HAND] - fill
    finish = formation + rule[THICKNESS]
    wall = np.maximum(pieces.edge_high - finish, finish - pieces.edge_low)
    soil = rule[OVER] * np.maximum(spare, 0.0) / rule[KEEP] + rule[SHORT] * np.maximum(-spare, 0.0)
    value: FloatArray = rule[CUT] * cut + rule[FILL] * fill + soil + rule[WALL] * wall
    return value
