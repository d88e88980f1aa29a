"""Goal, finish and limits on the level as the bounds take them."""

from __future__ import annotations

import math

import numpy as np

from spadework.placement.bound_core import FIXED
from spadework.placement.bound_dual import CUT_DEPTH, EXPOSED, FILL_DEPTH, KIND, WALL
from spadework.placement.objective import Objective
from spadework.readings import FloatArray

__all__ = ["bare_rule", "goal_rule", "is_bare"]

SHORT_OF_SOIL = 1.0
"""What a volume short counts in a bound where none may be short and the level is given: any number gives a bound."""
TOO_MUCH_OVER = 1000.0
"""What a volume over may count beyond what fill counts where no more may be carted: any number gives a bound."""


def goal_rule(objective: Objective) -> FloatArray:
    """Return goal, finish and limits on the level as `bound_boxes` takes them, shape (20,).

    Parameters
    ----------
    objective : Objective
        With goal, limits and pad.
    """
    goal, finish, keep = objective.goal, objective.limits.finish, objective.keep
    thickness, strip = objective.pad.build_up.thickness, objective.pad.strip
    kind = {"free": 0.0, "fixed": 1.0, "flush": 2.0, "flush-low": 3.0}[finish.kind]
    rule = objective.rule()
    bought = objective.most_bought
    carted = objective.limits.carted
    least, over = (-goal.short if math.isinf(bought) or kind > 0 else -math.inf), goal.over / keep
    most = over if carted is None else over + goal.fill + TOO_MUCH_OVER * (1.0 + goal.wall)
    # The value is convex in the ground only while the two weights do not sum to less than nothing.
    if keep < 1:
        most = min(most, (goal.cut + goal.fill) / (1 - keep))
    elif keep > 1:
        least = max(least, -(goal.cut + goal.fill) / (keep - 1))
    goal_trade, over_trade = max(-goal.short, least), min(over, most)
    if kind > 0 and not math.isinf(bought):
        least = goal_trade - SHORT_OF_SOIL
    up = strip - objective.ground.datum - thickness
    return np.array(
        [
            *(goal.cut, goal.fill, keep, least, most, 0.0 if math.isinf(bought) else bought),
            *(kind, (finish.level or 0.0) + up, goal_trade, SHORT_OF_SOIL, keep * objective.reserve),
            *(goal.wall, thickness - strip, rule.lowest_finish + up, rule.highest_finish + up),
            *(rule.cut_depth, rule.fill_depth, rule.exposed_edge),
            *(over_trade, math.inf if carted is None else keep * carted),
        ]
    )


def is_bare(rule: FloatArray) -> bool:
    """Tell whether `bound_plain` takes a rule: nothing counts at single points of the edge or under the pad."""
    limits = rule[[CUT_DEPTH, FILL_DEPTH, EXPOSED]]
    return bool(rule[WALL] == 0.0 and rule[KIND] <= FIXED and np.isinf(limits).all())


def bare_rule(rule: FloatArray) -> FloatArray:
    """Return a rule that `bound_plain` takes and whose value is nowhere higher, or the rule itself if there is none."""
    if is_bare(rule) or rule[WALL] > 0.0 or rule[KIND] > FIXED:
        return rule
    bare = rule.copy()
    bare[[CUT_DEPTH, FILL_DEPTH, EXPOSED]] = np.inf
    return bare
