"""The placement of a pad with banks: what is asked of it that a bank has not, and the spots as they will be dug."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from spadework.earthwork.bank_outline import banked_earthwork
from spadework.errors import Fault, InputError, PlacementError
from spadework.factors import SoilFactors
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.placement.goals import Goal
from spadework.placement.limits import Limits
from spadework.placement.proof import Progress, ProofEffort
from spadework.placement.search import find_placement
from spadework.placement.spots import SearchResult
from spadework.units import LengthUnit

__all__ = ["find_banked_placement"]


def find_banked_placement(
    ground: Ground,
    pad: Pad,
    limits: Limits,
    goal: Goal,
    soil: SoilFactors | float,
    *,
    unit: LengthUnit = LengthUnit.METRE,
    landmarks: Sequence[tuple[str, float, float]] = (),
    effort: ProofEffort | None = None,
    progress: Progress | None = None,
) -> SearchResult:
    """Find where a pad with banks costs least, the banks' soil included and the disturbed ground inside the limits.

    The search is that of `find_placement` on the exact value with banks, the level the best one for the goal with
    them. The boundary and the clearances of the keep-outs also hold the banks; the setback is the pad's own.

    Parameters
    ----------
    ground, pad, limits, goal, soil, unit, landmarks, effort, progress
        As for `find_placement`; the edge of the pad is a bank.

    Returns
    -------
    SearchResult
        Cut and fill with the banks.

    Raises
    ------
    InputError
        If the goal or a limit asks for the height of the edge, which a bank has none of, or the goal for barrowing.
    PlacementError
        If no placement keeps all limits, or the outline or the slopes of the edge cannot be used.
    """
    _refuse_what_no_bank_has(limits, goal)
    found = find_placement(
        ground, pad, limits, goal, soil, unit=unit, landmarks=landmarks, effort=effort, progress=progress
    )
    banked_earthwork(ground, pad, found.best.placement)  # refuses what a drawing would show to be no bank
    kept = []
    for spot in found.alternatives:
        try:
            banked_earthwork(ground, pad, spot.placement)
        except PlacementError:
            continue
        kept.append(spot)
    return replace(found, alternatives=tuple(kept))


def _refuse_what_no_bank_has(limits: Limits, goal: Goal) -> None:
    """Raise all faults at once of a goal and limits that ask for what a pad with banks has not."""
    faults = []
    if goal.moved > 0:
        faults.append(
            Fault(
                f"the goal {goal.name!r} counts barrowing, and the edge is a bank",
                "barrowing is made least for pads with vertical sides; that of a bank is told for the spot chosen",
                "Choose another goal, such as digging, or a retained edge",
            )
        )
    if goal.wall > 0:
        faults.append(
            Fault(
                f"the goal {goal.name!r} counts the height of the edge, and the edge is a bank",
                "a bank has no edge that shows",
                "Choose another goal, or a retained edge",
            )
        )
    if limits.exposed_edge is not None:
        faults.append(
            Fault(
                "the limits have an exposed edge, and the edge is a bank",
                "it limits the height of an edge with vertical sides; beside a bank none shows",
                "Take it out; the limits on fill and cut depth hold the pad near the ground under it",
            )
        )
    if faults:
        raise InputError(faults)
