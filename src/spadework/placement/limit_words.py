"""Which limits hold the best spot where it is, in words."""

from __future__ import annotations

from spadework.placement.objective import Objective
from spadework.readings import FloatArray

__all__ = ["limit_notice"]

TIGHT = 1e-3
"""Room left to a limit below which the spot stands at it. [m, deg]"""


def limit_notice(objective: Objective, pose: FloatArray) -> list[str]:
    """Return a sentence on the limits that the best spot stands at, where it might do better without them.

    Parameters
    ----------
    objective : Objective
        The search.
    pose : array, shape (3,)
        The best spot: ``east, north`` [m], ``bearing`` [deg].
    """
    if objective.limits.position is not None:
        return []
    clearance = objective.clearance
    tight = (clearance.distances(pose[None])[0] - clearance.required) < TIGHT
    named = list(zip(clearance.names, tight, strict=True))
    near = " and ".join(name for name, at_it in named[: clearance.rings] if at_it)
    far = " and ".join(name for name, at_it in named[clearance.rings :] if at_it)
    found = []
    if near:
        found.append(f"The best spot stands as near as it may to {near}: less clearance there might do better.")
    if far:
        found.append(f"The best spot is held by {far}: more freedom there might do better.")
    return found
