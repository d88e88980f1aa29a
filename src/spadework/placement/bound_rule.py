"""Goal, finish and limits on the level as the bounds take them."""

from __future__ import annotations

import math

import numpy as np

from spadework.placement.objective import Objective
from spadework.readings import FloatArray

__all__ = ["goal_rule"]

SHORT_OF_SOIL = 1.0
"""What a volume short counts in a bound where none may be short and the level is given: any number gives a bound."""


def goal_rule(objective: Objective) -> FloatArray:
    """Return goal, finish and limits on the level as `bound_boxes` takes them, shape (18,).

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
    least, most = (-goal.short if math.isinf(bought) or kind > 0 else -math.inf), goal.over / keep
    # The value is convex in the ground only while the two weights do not sum to less than nothing.
    if keep < 1:
        most = min(most, (goal.cut + goal.fill) / (1 - keep))
    elif keep > 1:
        least = max(least, -(goal.cut + goal.fill) / (keep - 1))
    goal_trade = max(-goal.short, least)
    if kind > 0 and not math.isinf(bought):
        least = goal_trade - SHORT_OF_SOIL
    up = strip - objective.ground.datum - thickness
    return np.array(
        [
            *(goal.cut, goal.fill, keep, least, most, 0.0 if math.isinf(bought) else bought),
            *(kind, (finish.level or 0.0) + up, goal_trade, SHORT_OF_SOIL, keep * objective.reserve),
            *(goal.wall, thickness - strip, rule.lowest_finish + up, rule.highest_finish + up),
            *(rule.cut_depth, rule.fill_depth, rule.exposed_edge),
        ]
    )
