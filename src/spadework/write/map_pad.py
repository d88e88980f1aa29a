"""What a map shows of the pad: cut and fill, the zero line, stakes with their marks, ties and sides.

Cut and fill differ by hatch, by tint and by the word written on them, so that they read in black and white and to an
eye that sees no colour.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch

from spadework.plan import Plan
from spadework.readings import FloatArray
from spadework.stakeout import depth_mark
from spadework.units import format_length
from spadework.write.labels import Labels, along_line
from spadework.write.map_frame import Extent
from spadework.write.map_land import patch_of
from spadework.write.pad_areas import PadAreas

__all__ = ["PAD_LOOKS", "draw_pad", "label_line_stakes", "label_pad", "label_sides", "label_ties"]

# Orange and blue stay apart for every common kind of colour blindness, slanting and level lines without any colour.
PAD_LOOKS: dict[str, dict[str, Any]] = {
    "cut": {"facecolor": "#fbe0c3", "edgecolor": "#a34700", "linewidth": 0.0, "hatch": "////"},
    "fill": {"facecolor": "#d6e8f7", "edgecolor": "#1b5e91", "linewidth": 0.0, "hatch": "---"},
    "zero": {"color": "black", "linewidth": 1.2, "linestyle": (0, (6, 2, 1, 2))},
    "pad": {"color": "black", "linewidth": 1.8, "solid_joinstyle": "miter"},
    "front": {"color": "black", "linewidth": 3.6, "solid_capstyle": "butt"},
    "bank": {"color": "black", "linewidth": 1.0, "linestyle": (0, (1, 1.5))},
    "stake": {"color": "black", "marker": "s", "markersize": 4, "linestyle": "none"},
    "offset": {"color": "black", "marker": "o", "markersize": 3.5, "markerfacecolor": "white", "linestyle": "none"},
    "side": {"color": "black", "marker": "|", "markersize": 5, "linestyle": "none"},
    "tie": {"color": "0.3", "linewidth": 0.5, "linestyle": (0, (5, 4))},
}

RING = {"boxstyle": "circle,pad=0.18", "facecolor": "white", "edgecolor": "black", "linewidth": 0.8}
"""What a stake's letter stands in, so that stake C is not taken for a cut."""


def draw_pad(axes: Axes, plan: Plan, areas: PadAreas) -> None:
    """Draw the pad, its stakes and its ties, without labels.

    Parameters
    ----------
    axes : Axes
        Map, its limits settled.
    plan : Plan
        The plan.
    areas : PadAreas
        Where it is cut and filled.
    """
    for name in ("cut", "fill"):
        axes.add_patch(PathPatch(patch_of(getattr(areas, name)), **PAD_LOOKS[name], zorder=3))
    for line in shapely.get_parts(areas.zero):
        if line.geom_type == "LineString":
            axes.plot(*np.asarray(line.coords).T, **PAD_LOOKS["zero"], zorder=5)
    for stake in plan.stakeout.stakes:
        for _, east, north in plan.stakeout.references:
            axes.plot([east, stake.east], [north, stake.north], **PAD_LOOKS["tie"], zorder=4)
    corners = plan.search.best.placement.corners(plan.pad)
    axes.plot(*np.vstack([corners, corners[:2]]).T, **PAD_LOOKS["pad"], zorder=6)
    if plan.pad.front:
        axes.plot(*plan.search.best.placement.to_site(_front(plan)).T, **PAD_LOOKS["front"], zorder=6)
    if plan.banks is not None:
        rim = plan.banks.outline
        axes.plot(*np.vstack([rim, rim[:1]]).T, **PAD_LOOKS["bank"], zorder=6)
        axes.plot(
            [s.east for s in plan.banks.stakes], [s.north for s in plan.banks.stakes], **PAD_LOOKS["side"], zorder=6
        )
    for look, stakes in (("offset", plan.stakeout.offsets), ("side", plan.stakeout.side_points)):
        axes.plot([s.east for s in stakes], [s.north for s in stakes], **PAD_LOOKS[look], zorder=6.5)
    marks = plan.stakeout.stakes
    axes.plot([s.east for s in marks], [s.north for s in marks], **PAD_LOOKS["stake"], zorder=7)


def _front(plan: Plan) -> FloatArray:
    """Return the side that is the pad's front, in its frame; of a round pad the rim about that quarter point."""
    pad = plan.pad
    if pad.radius is not None:
        turn = np.radians(np.linspace(-20.0, 20.0, 9) + 90.0 * "ABCD".index(pad.front))
        rim: FloatArray = pad.radius * np.column_stack([np.cos(turn), np.sin(turn)])
        return rim
    count = len(pad.names)
    sides = [(row, (row + 1) % count) for row in range(count)]
    # Sides are named either way round.
    named = {pad.names[a] + pad.names[b]: (a, b) for a, b in sides} | {
        pad.names[b] + pad.names[a]: (a, b) for a, b in sides
    }
    ends: FloatArray = pad.outline[list(named[pad.front])]
    return ends


def label_pad(labels: Labels, plan: Plan, areas: PadAreas, size: float, *, marks: bool) -> None:
    """Letter the stakes and write CUT and FILL on what they are.

    Parameters
    ----------
    labels : Labels
        Labels of the map.
    plan : Plan
        The plan.
    areas : PadAreas
        Where it is cut and filled.
    size : float
        Size of ordinary writing. [points]
    marks : bool
        Whether the stakes' marks stand beside their letters.
    """
    middle = plan.search.best.placement
    for stake in plan.stakeout.all_stakes:
        labels.keep_clear(stake.east, stake.north, 6.0 if stake.kind == "corner" else 4.5)
    for stake in plan.stakeout.stakes:
        outward = math.degrees(math.atan2(stake.north - middle.north, stake.east - middle.east))
        style: dict[str, Any] = {"must": True, "first": outward, "fontsize": size * 1.1, "fontweight": "bold"}
        ring = labels.beside(stake.name, stake.east, stake.north, away=8.0, bbox=RING, **style)
        if marks and ring is not None:
            labels.beside(depth_mark(stake.depth, plan.units), *ring, away=size * 1.3, **style)
    for name in ("cut", "fill"):
        _label_area(labels, name, getattr(areas, name), size, plan)


def _label_area(labels: Labels, name: str, area: Any, size: float, plan: Plan) -> None:
    """Write CUT or FILL at the roomiest place of the largest part, or off the pad with a line to it."""
    if area.is_empty:
        return
    largest = max(shapely.get_parts(area), key=lambda part: part.area)
    radius = shapely.maximum_inscribed_circle(largest, tolerance=0.01)
    east, north = shapely.get_coordinates(radius)[0]
    style: dict[str, Any] = {"fontsize": size, "fontweight": "bold", "color": PAD_LOOKS[name]["edgecolor"]}
    roomy = radius.length > 1.2 * size * labels.metres_per_point
    if not (roomy and labels.over(name.upper(), [(east, north, 0.0)], **style)):
        middle = plan.search.best.placement
        turn = math.degrees(math.atan2(north - middle.north, east - middle.east))
        off = float(np.hypot(*plan.pad.outline.T).max()) / labels.metres_per_point + size
        labels.beside(name.upper(), east, north, must=True, led=True, away=off, first=turn, **style)


def label_sides(labels: Labels, plan: Plan, size: float) -> None:
    """Write the length of each side just outside it, where there is room."""
    at = {stake.name: np.array([stake.east, stake.north]) for stake in plan.stakeout.stakes}
    for side in plan.stakeout.sides:
        start, end = at[side.start], at[side.end]
        angle = math.degrees(math.atan2(*(end - start)[::-1]))
        # corners run clockwise, so the outside is to the left of the way from one to the next
        away = np.array([-(end - start)[1], (end - start)[0]]) / side.length
        off = size * 1.1 * labels.metres_per_point
        places = [
            (*(start + share * (end - start) + reach * off * away), angle)
            for reach in (1.0, 1.6, 2.4)
            for share in (0.5, 0.35, 0.65)
        ]
        labels.over(format_length(side.length, plan.units), places, fontsize=size * 0.9)


def label_line_stakes(labels: Labels, plan: Plan, extent: Extent, size: float) -> None:
    """Name the offset stakes and the points on the sides, with their marks, where there is room.

    Parameters
    ----------
    labels : Labels
        Labels of the map.
    plan : Plan
        The plan.
    extent : Extent
        What the map shows. [m]
    size : float
        Size of ordinary writing. [points]
    """
    middle = plan.search.best.placement
    for stake in (*plan.stakeout.offsets, *plan.stakeout.side_points):
        if not extent.holds(stake.east, stake.north):
            continue
        outward = math.degrees(math.atan2(stake.north - middle.north, stake.east - middle.east))
        words = f"{stake.name} {depth_mark(stake.depth, plan.units)}".strip()
        labels.beside(words, stake.east, stake.north, away=7.0, first=outward, fontsize=size * 0.85)


def label_ties(labels: Labels, plan: Plan, extent: Extent, size: float) -> None:
    """Write the length of each tie along it, where there is room and the map shows it."""
    frame = shapely.box(extent.west, extent.south, extent.east, extent.north)
    for stake in plan.stakeout.stakes:
        for tie, (name, east, north) in zip(stake.ties, plan.stakeout.references, strict=True):
            line = shapely.intersection(shapely.LineString([(stake.east, stake.north), (east, north)]), frame)
            if line.geom_type != "LineString" or line.is_empty or line.length == 0:
                continue
            ends = np.asarray(line.coords)
            words = format_length(tie.distance, plan.units)
            if not extent.holds(east, north):
                words = f"{name}  {words}"
            places = along_line(ends[:, 0].tolist(), ends[:, 1].tolist(), (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8))
            labels.over(words, places, fontsize=size * 0.75, color="0.2")
