"""The limits of a plan as JSON: what the placement had to keep."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from spadework.placement import Limits

__all__ = ["limits_part"]

Number = Callable[[float | None], float | None]


def limits_part(limits: Limits, length: Number, volume: Number) -> dict[str, Any]:
    """Return what the placement had to keep, as ``docs/plan.schema.json`` describes it.

    Parameters
    ----------
    limits : Limits
        The limits.
    length, volume : callable
        Take metres and cubic metres to the unit of the document; nothing to nothing.
    """
    place, finish = limits.position, limits.finish
    return {
        "boundary": [[[length(value) for value in corner] for corner in ring] for ring in limits.boundary],
        "setback": length(limits.setback),
        "keep_outs": [
            {
                "name": keep_out.name,
                "outline": [[length(value) for value in corner] for corner in keep_out.outline],
                "clearance": length(keep_out.clearance),
                "line": keep_out.open,
                "holes": [[[length(value) for value in corner] for corner in ring] for ring in keep_out.holes],
            }
            for keep_out in limits.keep_outs
        ],
        "bearing": limits.bearing.fixed,
        "bearing_ranges": [{"from": start % 360.0, "width": width} for start, width in limits.bearing.ranges],
        "position": None
        if place is None
        else {"east": length(place.east), "north": length(place.north), "corner": place.corner or None},
        "finish": {
            "kind": finish.kind,
            "level": length(finish.level),
            "lowest": length(finish.lowest),
            "highest": length(finish.highest),
        },
        "exposed_edge": length(limits.exposed_edge),
        "cut_depth": length(limits.cut_depth),
        "fill_depth": length(limits.fill_depth),
        "bought": volume(limits.bought),
        "carted": volume(limits.carted),
        "ground_slope": limits.ground_slope,
        "reaches": [
            {
                "name": reach.name,
                "east": length(reach.east),
                "north": length(reach.north),
                "distance": length(reach.distance),
                "to": reach.to,
            }
            for reach in limits.reaches
        ],
        "facings": [
            {
                "name": facing.name,
                "east": length(facing.east),
                "north": length(facing.north),
                "within": facing.within,
                "side": facing.side,
            }
            for facing in limits.facings
        ],
    }
