"""What a map shows of the land: contours, boundary and setback, keep-outs, shots and references."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from shapely.geometry.polygon import orient

from spadework.ground import Ground
from spadework.placement import KeepOut, Limits
from spadework.placement.land import keep_out_shape, land_shape
from spadework.placement.limits import FacingLimit, ReachLimit
from spadework.readings import FloatArray
from spadework.units import LengthUnit
from spadework.write.labels import Labels, along_line
from spadework.write.map_frame import Extent, Land, contour_interval, contour_text

__all__ = ["LOOKS", "draw_land", "label_land", "label_references", "patch_of", "shown_contours"]

Contour = tuple[float, FloatArray]
"""Level of a contour and its line, shape (k, 2). [m]"""

INK = "black"
CONTOUR = "#8a5a2b"
LOOKS: dict[str, dict[str, Any]] = {
    "contour": {"color": CONTOUR, "linewidth": 0.6},
    "ground": {"color": "0.45", "linewidth": 0.6, "linestyle": (0, (1, 2))},
    "boundary": {"color": INK, "linewidth": 1.3, "linestyle": (0, (9, 2, 2, 2))},
    "setback": {"color": "0.25", "linewidth": 0.7, "linestyle": (0, (4, 3))},
    "keep-out": {"facecolor": "none", "edgecolor": "0.35", "linewidth": 0.8, "hatch": "xxx"},
    "clearance": {"facecolor": "none", "edgecolor": "0.35", "linewidth": 0.7, "linestyle": (0, (2, 2))},
    "shot": {"color": "0.3", "marker": "+", "markersize": 4, "markeredgewidth": 0.6, "linestyle": "none"},
    "reach": {"facecolor": "none", "edgecolor": "0.2", "linewidth": 0.9, "linestyle": (0, (1, 3))},
    "point": {"color": "0.2", "marker": "D", "markersize": 4, "linestyle": "none"},
    "reference": {"color": INK, "marker": "^", "markersize": 6, "linestyle": "none"},
}
MOST_SHOT_NAMES = 400


def shown_contours(plan: Land, extent: Extent, fineness: float) -> list[Contour]:
    """Return the contours that a map shows, cut off at its frame, the longest first.

    Parameters
    ----------
    plan : Land
        The plan, or the ground alone.
    extent : Extent
        What the map shows. [m]
    fineness : float
        Bends smaller than this are not drawn. [m]

    Returns
    -------
    list of (float, array of shape (k, 2))
        Level and line. [m]
    """
    interval = contour_interval(plan, extent)
    if interval == 0:
        return []
    frame = shapely.box(extent.west, extent.south, extent.east, extent.north)
    lines = [
        (level, np.asarray(part.coords))
        for level, line in _ground_within(plan.ground, extent).contours(interval)
        for part in shapely.get_parts(shapely.intersection(shapely.LineString(line).simplify(fineness), frame))
        if part.geom_type == "LineString" and not part.is_empty
    ]
    return sorted(lines, key=lambda found: -float(np.hypot(*np.diff(found[1], axis=0).T).sum()))


def draw_land(axes: Axes, plan: Land, contours: Sequence[Contour]) -> None:
    """Draw the land, without its labels.

    Parameters
    ----------
    axes : Axes
        Map, its limits settled.
    plan : Land
        The plan, or the ground alone.
    contours : sequence of Contour
        Those that the map shows.
    """
    axes.add_collection(LineCollection([line for _, line in contours], **LOOKS["contour"], zorder=1), autolim=False)
    for ring in plan.ground.outline():
        _closed(axes, ring, "ground")
    for ring in plan.limits.boundary:
        _closed(axes, ring, "boundary")
    allowed = _allowed(plan)
    if plan.limits.setback > 0:
        axes.add_patch(PathPatch(patch_of(allowed), fill=False, **_edge("setback"), zorder=2))
    for keep_out in plan.limits.keep_outs:
        _keep_out(axes, keep_out)
    if plan.shots is not None:
        axes.plot(plan.shots.east, plan.shots.north, **LOOKS["shot"], zorder=4)
    for reach in plan.limits.reaches:
        around = shapely.Point(reach.east, reach.north).buffer(reach.distance, quad_segs=48)
        axes.add_patch(PathPatch(patch_of(around), **LOOKS["reach"], zorder=2))
    for point in _points(plan.limits):
        axes.plot(point.east, point.north, **LOOKS["point"], zorder=6)
    for _, east, north in plan.references:
        axes.plot(east, north, **LOOKS["reference"], zorder=6)


def label_land(labels: Labels, plan: Land, extent: Extent, contours: Sequence[Contour], size: float) -> None:
    """Label the land: references and keep-outs in any case, contours and shots where there is room.

    Parameters
    ----------
    labels : Labels
        Labels of the map.
    plan : Land
        The plan, or the ground alone.
    extent : Extent
        What the map shows. [m]
    contours : sequence of Contour
        Those that the map shows.
    size : float
        Size of ordinary writing. [points]
    """
    for keep_out in plan.limits.keep_outs:
        middle = keep_out.outline.mean(axis=0)
        if extent.holds(*middle):
            labels.beside(keep_out.name, *middle, must=True, fontsize=size, fontstyle="italic", away=2.0)
    named, limits = {name for name, _, _ in plan.references}, plan.limits
    for name, east, north in sorted({(point.name, point.east, point.north) for point in _points(limits)}):
        if extent.holds(east, north) and name not in named:
            labels.beside(name, east, north, must=True, fontsize=size, fontstyle="italic", away=5.0)
    _label_contours(labels, contours, contour_interval(plan, extent), plan.units, size)
    _label_boundary(labels, plan, size)
    if plan.shots is not None and len(plan.shots) <= MOST_SHOT_NAMES:
        named = {name for name, _, _ in plan.references}
        for point, east, north in zip(plan.shots.point, plan.shots.east, plan.shots.north, strict=True):
            if point not in named and extent.holds(east, north):
                labels.beside(point, east, north, away=3.0, fontsize=size * 0.75, color="0.3")


def _points(limits: Limits) -> tuple[ReachLimit | FacingLimit, ...]:
    """Return the points that the pad must lie near to or face."""
    return (*limits.reaches, *limits.facings)


def label_references(labels: Labels, plan: Land, extent: Extent, size: float) -> None:
    """Name the references that the map shows."""
    for _, east, north in plan.references:
        if extent.holds(east, north):
            labels.keep_clear(east, north, 8.0)
    for name, east, north in plan.references:
        if extent.holds(east, north):
            labels.beside(name, east, north, must=True, away=8.0, fontsize=size, fontweight="bold")


def patch_of(shape: Any) -> Path:
    """Return the outlines of surfaces as one path, holes run the other way round so that they stay open."""
    surfaces = [orient(part) for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    rings = [ring for part in surfaces for ring in (part.exterior, *part.interiors)]
    paths = [Path(np.asarray(ring.coords)[:, :2], closed=True) for ring in rings if not ring.is_empty]
    return Path.make_compound_path(*paths) if paths else Path(np.zeros((0, 2)))


def _ground_within(ground: Ground, extent: Extent) -> Ground:
    """Return the part of the ground that a map shows: a small map of a large raster need not follow every contour."""
    east, north = ground.east + ground.origin[0], ground.north + ground.origin[1]
    beyond = [east < extent.west, east > extent.east, north < extent.south, north > extent.north]
    near = ~np.logical_or.reduce([side[ground.triangles].all(axis=1) for side in beyond])
    return replace(ground, triangles=ground.triangles[near]) if near.any() else ground


def _label_contours(
    labels: Labels, contours: Sequence[Contour], interval: float, unit: LengthUnit, size: float
) -> None:
    """Write each contour's level along it, the longest lines first, once or, on a long line, twice."""
    labelled: dict[float, int] = {}
    for level, line in contours:
        if labelled.get(level, 0) < 2:
            places = along_line(line[:, 0].tolist(), line[:, 1].tolist(), (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9))
            words = contour_text(level, interval, unit)
            if labels.over(words, places, fontsize=size * 0.8, color=CONTOUR):
                labelled[level] = labelled.get(level, 0) + 1


def _label_boundary(labels: Labels, plan: Land, size: float) -> None:
    """Write "boundary" along one of its sides, the longest that has room."""
    if not plan.limits.boundary:
        return
    ring = max(plan.limits.boundary, key=lambda corners: shapely.Polygon(corners).area)
    sides = sorted(pairwise([*ring, ring[0]]), key=lambda ends: -float(np.hypot(*(ends[1] - ends[0]))))
    for start, end in sides:
        places = along_line([start[0], end[0]], [start[1], end[1]], (0.5, 0.3, 0.7))
        if labels.over("boundary", places, fontsize=size * 0.8):
            return


def _closed(axes: Axes, ring: FloatArray, look: str) -> None:
    """Draw a ring that does not repeat its first point."""
    axes.plot(*np.vstack([ring, ring[:1]]).T, **LOOKS[look], zorder=2)


def _allowed(plan: Land) -> Any:
    """Return the land less its setback."""
    return land_shape(plan.limits.boundary or plan.ground.outline()).buffer(-plan.limits.setback, join_style="mitre")


def _keep_out(axes: Axes, keep_out: KeepOut) -> None:
    """Draw what the pad keeps clear of: the thing itself hatched, its clearance dashed; a circle hatched as a whole."""
    if keep_out.is_circle:
        thing: Any = shapely.Point(keep_out.outline[0]).buffer(keep_out.clearance, quad_segs=24)
        axes.plot(*keep_out.outline[0], marker="o", markersize=3, color="0.35", zorder=3)
    else:
        thing = keep_out_shape(keep_out)
        if keep_out.clearance > 0:
            round_it = thing.buffer(keep_out.clearance, quad_segs=24)
            axes.add_patch(PathPatch(patch_of(round_it), **LOOKS["clearance"], zorder=2))
    if keep_out.open:
        axes.plot(*keep_out.outline.T, color="0.35", linewidth=1.4, zorder=2)
        return
    axes.add_patch(PathPatch(patch_of(thing), **LOOKS["keep-out"], zorder=2))


def _edge(look: str) -> dict[str, Any]:
    """Return the look of a line as that of a patch's edge."""
    return {"edgecolor" if name == "color" else name: value for name, value in LOOKS[look].items()}
