"""``ground.xml``: the ground, the formation and the finish as surfaces, and the stakes as points, for survey programs.

Points are written ``north east level``, faces by the ids of their points, as LandXML does. Lengths are metres.

References
----------
LandXML 1.2 schema, http://www.landxml.org/schema/LandXML-1.2
"""

from __future__ import annotations

import math

import numpy as np
import shapely

import spadework
from spadework.ground import Ground
from spadework.plan import Plan
from spadework.readings import FloatArray
from spadework.stakeout import depth_mark
from spadework.write.place_on_earth import has_place_on_earth
from spadework.write.xml_tree import Element, child, root, written

__all__ = ["landxml_bytes"]

NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"
MOST_TRIANGLES = 300_000  # of a ground written whole; of a larger one only the part about the pad
ABOUT_PAD = 3.0  # how far that part reaches from the middle of the pad, in diagonals of the pad


def landxml_bytes(plan: Plan) -> bytes:
    """Return the file.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    tree = root(
        "LandXML",
        NAMESPACE,
        version="1.2",
        date=plan.date,
        time="00:00:00",
        language="English",
        readOnly="false",
    )
    child(
        child(tree, "Units"),
        "Metric",
        areaUnit="squareMeter",
        linearUnit="meter",
        volumeUnit="cubicMeter",
        temperatureUnit="celsius",
        pressureUnit="milliBars",
        angularUnit="decimal degrees",
        directionUnit="decimal degrees",
    )
    if has_place_on_earth(plan):
        _coordinate_system(tree, plan)
    words = (*plan.overrides, f"Levels: {plan.datum}" if plan.datum else "Levels as read")
    child(tree, "Project", name=plan.name, desc=". ".join(words))
    child(tree, "Application", name="Spadework", version=spadework.__version__)
    _points(tree, plan)
    place = plan.search.best.placement
    surfaces = child(tree, "Surfaces")
    ground, whole = _shown_ground(plan)
    part = "" if whole else ": the part about the pad"
    strip = f" The strip of {plan.pad.strip:.3f} m is not taken off." if plan.pad.strip > 0 else ""
    _surface(
        surfaces,
        "ground",
        f"The ground as measured{part}.{strip}",
        np.column_stack([ground.east + ground.origin[0], ground.north + ground.origin[1], ground.level]),
        ground.triangles,
    )
    outline, faces = place.corners(plan.pad), _outline_faces(plan)
    for name, level in (("formation", place.formation(plan.pad)), ("finish", place.finish)):
        corners = np.column_stack([outline, np.full(len(outline), level)])
        _surface(surfaces, name, f"The pad at its {name} level.", corners, faces)
    return written(tree)


def _coordinate_system(tree: Element, plan: Plan) -> None:
    """Say in which system the points are."""
    authority, _, code = plan.crs.partition(":")
    epsg = {"epsgCode": code} if authority.strip().casefold() == "epsg" and code.strip().isdigit() else {}
    child(tree, "CoordinateSystem", name=plan.crs[:200], desc="Axes of the site: east and north of this system", **epsg)


def _points(tree: Element, plan: Plan) -> None:
    """Write the stakes at the level of the formation, and the references, which have no level here, left out."""
    points = child(tree, "CgPoints", name="stakes", desc="Stakes at formation level; desc is what is written on them")
    for stake in plan.stakeout.ordered():
        child(
            points,
            "CgPoint",
            f"{stake.north:.6f} {stake.east:.6f} {stake.formation:.6f}",
            name=stake.name,
            desc=depth_mark(stake.depth, plan.units) or "no ground measured here",
            code=stake.kind,
        )


def _surface(parent: Element, name: str, words: str, points: FloatArray, faces: np.ndarray) -> None:
    """Write one surface."""
    surface = child(parent, "Surface", name=name, desc=words)
    corners = points[faces]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    definition = child(
        surface,
        "Definition",
        surfType="TIN",
        area2DSurf=f"{float(np.abs(cross[:, 2]).sum()) / 2:.6f}",
        area3DSurf=f"{float(np.linalg.norm(cross, axis=1).sum()) / 2:.6f}",
        elevMax=f"{float(points[:, 2].max()):.6f}",
        elevMin=f"{float(points[:, 2].min()):.6f}",
    )
    where = child(definition, "Pnts")
    for number, (east, north, level) in enumerate(points.tolist(), 1):
        child(where, "P", f"{north:.6f} {east:.6f} {level:.6f}", id=str(number))
    what = child(definition, "Faces")
    for one, two, three in (faces + 1).tolist():
        child(what, "F", f"{one} {two} {three}")


def _shown_ground(plan: Plan) -> tuple[Ground, bool]:
    """Return the ground to write, its unused points left out, and whether it is all of it."""
    ground, place = plan.ground, plan.search.best.placement
    faces = ground.triangles
    whole = len(faces) <= MOST_TRIANGLES
    if not whole:
        reach = ABOUT_PAD * 2 * float(np.hypot(*plan.pad.outline.T).max())
        east, north = ground.east + ground.origin[0] - place.east, ground.north + ground.origin[1] - place.north
        faces = faces[(np.hypot(east, north) <= reach)[faces].any(axis=1)]
    used, renumbered = np.unique(faces, return_inverse=True)
    cut = Ground(
        origin=ground.origin,
        east=ground.east[used],
        north=ground.north[used],
        level=ground.level[used],
        triangles=renumbered.reshape(-1, 3).astype(np.int32),
        kind=ground.kind,
    )
    return cut, whole


def _outline_faces(plan: Plan) -> np.ndarray:
    """Return the pad's outline as triangles of its corners, shape (t, 3), counter-clockwise."""
    outline = plan.search.best.placement.corners(plan.pad)
    count = len(outline)
    rest, faces = list(range(count)), []
    while len(rest) > 3:
        ear = next(k for k in range(len(rest)) if _is_ear(outline, rest, k))
        faces.append((rest[ear - 1], rest[ear], rest[(ear + 1) % len(rest)]))
        rest.pop(ear)
    faces.append((rest[0], rest[1], rest[2]))
    return np.array([face[::-1] for face in faces])


def _is_ear(outline: FloatArray, rest: list[int], k: int) -> bool:
    """Return whether the corner at k of a clockwise outline can be cut off: a convex corner that holds no other."""
    a, b, c = rest[k - 1], rest[k], rest[(k + 1) % len(rest)]
    (e1, n1), (e2, n2), (e3, n3) = outline[a], outline[b], outline[c]
    turn = (e2 - e1) * (n3 - n1) - (n2 - n1) * (e3 - e1)
    if turn >= -1e-12 * math.dist(outline[a], outline[c]):
        return False
    triangle = shapely.Polygon([outline[a], outline[b], outline[c]])
    return not any(triangle.covers(shapely.Point(outline[i])) for i in rest if i not in (a, b, c))
