"""Offset stakes where they may stand: nearer to their corner, or left out, where the land ends or is kept clear of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from spadework.pad import Placement
from spadework.readings import FloatArray
from spadework.stakeout.line_points import LinePoint
from spadework.units import LengthUnit, format_length

__all__ = ["LEAST_OFFSET", "Forbids", "with_room"]

Forbids = Callable[[FloatArray], Sequence[str]]
"""Takes places, shape (n, 2), and says for each what forbids it, in words after "would stand"; nothing where it may."""

SHARES = (0.75, 0.5, 0.35, 0.25)
"""Shares of the offset that are tried in turn."""
LEAST_OFFSET = 0.15
"""Nearer to the digging a stake does not stand fast (common practice, no source). [m]"""


def with_room(
    points: Sequence[LinePoint], placement: Placement, forbids: Forbids | None, unit: LengthUnit
) -> tuple[list[LinePoint], list[str]]:
    """Return offset stakes where they may stand, and what is to be said of those that were moved or left out.

    Parameters
    ----------
    points : sequence of LinePoint
        Where they should stand.
    placement : Placement
        Of the pad.
    forbids : callable, optional
        What forbids a place; without it all may stand.
    unit : LengthUnit
        The user's unit.
    """
    if forbids is None or not points:
        return list(points), []
    why = forbids(placement.to_site(np.array([point.place for point in points])))
    kept: list[LinePoint] = []
    notices: list[str] = []
    for point, reason in zip(points, why, strict=True):
        if not reason:
            kept.append(point)
            continue
        nearer = _nearer(point, placement, forbids)
        words = f"Offset stake {point.name} would stand {reason}"
        if nearer is None:
            notices.append(
                f"{words}, also nearer to its corner, and is left out: mind the other one of corner {point.of}."
            )
        else:
            away, wanted = format_length(nearer.away, unit), format_length(point.away, unit)
            notices.append(f"{words}: it is set {away} from its corner instead of {wanted}.")
            kept.append(nearer)
    return kept, notices


def _nearer(point: LinePoint, placement: Placement, forbids: Forbids) -> LinePoint | None:
    """Return an offset stake on the same line, as far out as it may stand; ``None`` where it may nowhere."""
    for share in SHARES:
        if point.away * share < LEAST_OFFSET:
            return None
        moved = _at(point, share)
        if not forbids(placement.to_site(moved.place[None]))[0]:
            return moved
    return None


def _at(point: LinePoint, part: float) -> LinePoint:
    """Return an offset stake at a part of its distance beyond the corner."""
    beyond_end = point.share > 1
    share = 1 + part * (point.share - 1) if beyond_end else part * point.share
    # The corner lies on the line through the stake, so the stake's own way from it is known.
    corner = point.place - point.way * point.away
    return replace(point, away=point.away * part, share=share, place=corner + point.way * point.away * part)
