"""``stakes.gpx``: the stakes as waypoints and the pad as a route, for a phone or a hand-held receiver.

References
----------
GPX 1.1 schema documentation, https://www.topografix.com/GPX/1/1/
"""

from __future__ import annotations

import numpy as np

from spadework.plan import Plan
from spadework.write.place_on_earth import earth_of
from spadework.write.stake_words import stake_words
from spadework.write.xml_tree import Element, child, root, written

__all__ = ["gpx_bytes"]

NAMESPACE = "http://www.topografix.com/GPX/1/1"


def gpx_bytes(plan: Plan) -> bytes:
    """Return the file. No elevations: those of GPX are not in the site's datum.

    Parameters
    ----------
    plan : Plan
        A plan with a coordinate reference system.
    """
    earth = earth_of(plan)
    stakes, references = plan.stakeout.ordered(), plan.stakeout.references
    tree = root("gpx", NAMESPACE, version="1.1", creator="Spadework")
    head = child(tree, "metadata")
    child(head, "name", plan.name)
    child(head, "desc", " ".join((*plan.overrides, earth.words)))
    places = np.array([*((s.east, s.north) for s in stakes), *((east, north) for _, east, north in references)])
    points = earth.longitude_latitude(places[:, 0], places[:, 1])
    for stake, place in zip(stakes, points[: len(stakes)], strict=True):
        at = _point(tree, "wpt", place)
        child(at, "name", stake.name)
        child(at, "desc", stake_words(stake, plan))
        child(at, "type", f"{stake.kind} stake")
    for (name, _, _), place in zip(references, points[len(stakes) :], strict=True):
        at = _point(tree, "wpt", place)
        child(at, "name", name)
        child(at, "type", "reference")
    route = child(tree, "rte")
    child(route, "name", f"Outline of the pad, {plan.name}")
    corners = plan.search.best.placement.corners(plan.pad)
    ring = earth.longitude_latitude(*corners.T)
    for name, place in zip((*plan.pad.names, plan.pad.names[0]), [*ring, ring[0]], strict=True):
        child(_point(route, "rtept", place), "name", name)
    return written(tree)


def _point(parent: Element, name: str, place: np.ndarray) -> Element:
    """Add a point."""
    longitude, latitude = place
    return child(parent, name, lat=f"{latitude:.9f}", lon=f"{longitude:.9f}")
