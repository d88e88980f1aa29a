"""What a site file and its survey say of the stakes and the sheet, and which points can be found again to tape from."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from spadework.plan import Reference
from spadework.site import Site
from spadework.site_where import BearingTable
from spadework.survey_places import Places

__all__ = ["fixed_points", "stake_inputs"]


def stake_inputs(site: Site, places: Places) -> dict[str, Any]:
    """Return the attributes of `spadework.plan.PlanInputs` that say how the stakes are set and the sheet is printed.

    Parameters
    ----------
    site : Site
        The site file.
    places : Places
        Positions of what it names.
    """
    found: dict[str, Any] = {
        "offset": site.stakes.offset,
        "side_spacing": site.stakes.side_spacing,
        "fixed_points": fixed_points(site, places),
        "paper": site.sheet.paper,
    }
    if site.stakes.tape_sd is not None:
        found["tape_sd"] = site.stakes.tape_sd
    return found


def fixed_points(site: Site, places: Places) -> tuple[Reference, ...]:
    """Return the named points that can be found again on the ground: corners of the boundary, marks, the bench mark.

    A shot on bare ground cannot be found again, and the middle of a keep-out (a trunk, a pond) cannot be taped from.

    Parameters
    ----------
    site : Site
        The site file.
    places : Places
        Positions of what it names.
    """
    found: dict[str, Reference] = {}
    for name in _names(site, places):
        place = places.look(name)
        if place is not None:
            found.setdefault(name.strip().casefold(), (name, *place))
    return tuple(found.values())


def _names(site: Site, places: Places) -> Iterator[str]:
    """Yield the names of what stands fast."""
    for table in site.boundaries:
        yield from (point for point in table.points or () if isinstance(point, str))
    if site.pad_table is not None and isinstance(site.pad_table.bearing, BearingTable):
        yield from site.pad_table.bearing.parallel_to or site.pad_table.bearing.square_to or ()
    if site.datum is not None:
        yield site.datum.point
    yield from (mark.name for mark in places.marks)
