"""``stakes.kml``: the pad and its stakes for a map on the screen.

References
----------
OGC 07-147r2, "OGC KML", version 2.2.0.
"""

from __future__ import annotations

import numpy as np

from spadework.plan import Plan
from spadework.stakeout import depth_mark
from spadework.write.place_on_earth import earth_of
from spadework.write.stake_words import stake_words
from spadework.write.xml_tree import Element, child, root, written

__all__ = ["kml_bytes"]

NAMESPACE = "http://www.opengis.net/kml/2.2"
FOLDERS = (("corner", "Corners"), ("offset", "Offset stakes"), ("side", "Points on the sides"))


def kml_bytes(plan: Plan) -> bytes:
    """Return the file. Everything lies on the ground: altitudes of KML are not in the site's datum.

    Parameters
    ----------
    plan : Plan
        A plan with a coordinate reference system.
    """
    earth = earth_of(plan)
    tree = root("kml", NAMESPACE)
    document = child(tree, "Document")
    child(document, "name", plan.name)
    child(document, "description", " ".join((*plan.overrides, earth.words)))
    style = child(document, "Style", id="pad")
    line = child(style, "LineStyle")
    child(line, "color", "ff000000")
    child(line, "width", "2")
    child(child(style, "PolyStyle"), "color", "66ffffff")
    ring = earth.longitude_latitude(*plan.search.best.placement.corners(plan.pad)[::-1].T)
    pad = _placemark(document, "Pad", f"Pad of {plan.name}", style="#pad")
    shape = child(pad, "Polygon")
    outline = child(child(shape, "outerBoundaryIs"), "LinearRing")
    child(outline, "coordinates", " ".join(_pair(place) for place in [*ring, ring[0]]))
    for kind, title in FOLDERS:
        stakes = [stake for stake in plan.stakeout.ordered() if stake.kind == kind]
        if not stakes:
            continue
        folder = child(document, "Folder")
        child(folder, "name", title)
        points = earth.longitude_latitude(np.array([s.east for s in stakes]), np.array([s.north for s in stakes]))
        for stake, place in zip(stakes, points, strict=True):
            name = f"{stake.name} {depth_mark(stake.depth, plan.units)}".strip()
            mark = _placemark(folder, name, stake_words(stake, plan))
            child(child(mark, "Point"), "coordinates", _pair(place))
    if plan.stakeout.references:
        folder = child(document, "Folder")
        child(folder, "name", "References")
        known = plan.stakeout.references
        points = earth.longitude_latitude(np.array([e for _, e, _ in known]), np.array([n for _, _, n in known]))
        for (name, _, _), place in zip(known, points, strict=True):
            child(child(_placemark(folder, name, "reference to tape from"), "Point"), "coordinates", _pair(place))
    return written(tree)


def _placemark(parent: Element, name: str, words: str, *, style: str = "") -> Element:
    """Add a placemark without its geometry."""
    mark = child(parent, "Placemark")
    child(mark, "name", name)
    child(mark, "description", words)
    if style:
        child(mark, "styleUrl", style)
    return mark


def _pair(place: np.ndarray) -> str:
    """Return longitude and latitude as KML writes them."""
    return f"{place[0]:.9f},{place[1]:.9f}"
