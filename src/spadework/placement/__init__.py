"""Where the pad goes: limits, goals, the search for the best spot, and alternatives."""

from spadework.placement.banked import find_banked_placement
from spadework.placement.goal_terms import GoalTerms, goal_from
from spadework.placement.goals import GOALS, Goal, goal_named
from spadework.placement.limits import BearingLimit, FinishLimit, KeepOut, Limits, PositionLimit
from spadework.placement.proof import ProofEffort
from spadework.placement.search import find_placement
from spadework.placement.spots import Proof, SearchResult, Spot

__all__ = [
    "GOALS",
    "BearingLimit",
    "FinishLimit",
    "Goal",
    "GoalTerms",
    "KeepOut",
    "Limits",
    "PositionLimit",
    "Proof",
    "ProofEffort",
    "SearchResult",
    "Spot",
    "find_banked_placement",
    "find_placement",
    "goal_from",
    "goal_named",
]
