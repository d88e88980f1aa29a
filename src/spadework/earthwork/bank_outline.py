"""Where banks end: the disturbed outline, the areas of cut and fill slope, and the toe and top stakes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from spadework.earthwork.account import Earthwork, earthwork
from spadework.earthwork.banks import LEAST_REACH, banked_pad, wedges
from spadework.errors import PlacementError
from spadework.ground import Ground
from spadework.pad import Edge, Pad, Placement
from spadework.readings import FloatArray

__all__ = ["BankStake", "Banks", "banked_earthwork"]

SLIVER = 1e-6
"""Disturbed areas smaller than this are rounding. [m²]"""
SPACING = 2.0
"""Farthest that two stakes along a side stand apart. [m]"""


@dataclass(frozen=True, slots=True)
class BankStake:
    """Where a bank meets the ground, straight out from a point of the pad's edge.

    Parameters
    ----------
    name : str
        Corner letter, or side and number: ``B``, ``A-B 1``.
    east, north : float
        Where the stake stands. [m]
    level : float
        Of the stripped ground there. [m]
    out : float
        Plan distance from the edge; 0 where the edge lies on the ground. [m]
    kind : str
        ``"top of cut"``, ``"toe of fill"`` or ``"on grade"``.
    """

    name: str
    east: float
    north: float
    level: float
    out: float
    kind: str


@dataclass(frozen=True)
class Banks:
    """The banks of a placement.

    Parameters
    ----------
    cut, fill : float
        Soil dug and made up outside the pad's edge. [m³]
    cut_area, fill_area : float
        Surface of the slopes, along the slope: what is turfed. [m²]
    outline : array, shape (k, 2)
        Ring round everything disturbed, east and north. [m]
    stakes : tuple of BankStake
        At the corners and along the sides.
    cut_height, fill_height : float
        Greatest height of a cut slope and of a fill slope from the formation to where it meets the stripped ground;
        0 where there is none. [m]
    """

    cut: float
    fill: float
    cut_area: float
    fill_area: float
    outline: FloatArray
    stakes: tuple[BankStake, ...]
    cut_height: float = 0.0
    fill_height: float = 0.0

    @property
    def area(self) -> float:
        """Plan area of everything disturbed, the pad included. [m²]"""
        return float(shapely.Polygon(self.outline).area)


def banked_earthwork(ground: Ground, pad: Pad, placement: Placement) -> tuple[Earthwork, Banks]:
    """Return the earthwork of a pad with banks: volumes with the banks, levels and depths of the pad itself.

    The strip is taken off wherever the banks disturb the ground, and a bank is run out to the stripped ground.

    Parameters
    ----------
    ground : Ground
        The surface.
    pad : Pad
        A pad whose edge is a bank.
    placement : Placement
        Where it is put, with its finish level.

    Raises
    ------
    PlacementError
        If the pad or a bank leaves the measured ground, or the ground is as steep as a bank and never met by it.
    """
    inside = earthwork(ground, Pad(pad.outline, pad.build_up, pad.strip, Edge()), placement)
    formation = inside.formation
    reach = _reach(ground, pad, formation, min(pad.edge.cut_slope, pad.edge.fill_slope))
    _, _, cut, fill = banked_pad(ground, pad, placement, reach=reach).volumes(formation)
    cut_part, fill_part = (_active(ground, pad, placement, formation, sign) for sign in (1.0, -1.0))
    whole = shapely.union_all([shapely.Polygon(placement.corners(pad)), cut_part, fill_part], grid_size=1e-9)
    disturbed = _one_piece(whole)
    _inside_ground(ground, disturbed)
    slopes = pad.edge.cut_slope, pad.edge.fill_slope
    # Along the rim of what is disturbed the slope meets the ground, and between its corners both are straight.
    rim = np.asarray(disturbed.exterior.coords)[:-1]
    height = ground.level_at(rim) - pad.strip - formation
    banks = Banks(
        cut=cut,
        fill=fill,
        cut_area=float(shapely.area(cut_part)) * math.hypot(1.0, slopes[0]),
        fill_area=float(shapely.area(fill_part)) * math.hypot(1.0, slopes[1]),
        outline=rim,
        stakes=_stakes(ground, pad, placement, formation, disturbed),
        cut_height=float(np.nanmax(height, initial=0.0)),
        fill_height=float(np.nanmax(-height, initial=0.0)),
    )
    totals = Earthwork(
        cut=inside.cut + cut,
        fill=inside.fill + fill,
        strip_volume=pad.strip * float(disturbed.area),
        area=inside.area,
        formation=formation,
        ground_mean=inside.ground_mean,
        ground_low=inside.ground_low,
        ground_high=inside.ground_high,
        edge_low=inside.edge_low,
        edge_high=inside.edge_high,
        deepest_cut=inside.deepest_cut,
        deepest_fill=inside.deepest_fill,
    )
    return totals, banks


def _reach(ground: Ground, pad: Pad, formation: float, slope: float) -> float:
    """Return how far out the highest or the lowest ground could be met by a slope. [m]"""
    above = float(ground.level.max()) - pad.strip - formation
    below = formation - float(ground.level.min()) + pad.strip
    return 1.01 * max(above, below) / slope + LEAST_REACH


def _active(ground: Ground, pad: Pad, placement: Placement, formation: float, sign: float) -> shapely.Geometry:
    """Return the part of the plan where the cut banks (sign 1) or the fill banks (-1) are dug or made up."""
    slope = pad.edge.cut_slope if sign > 0 else pad.edge.fill_slope
    reach = _reach(ground, pad, formation, slope)
    corners = np.column_stack([ground.east, ground.north]) + ground.origin
    frame = placement.to_pad(corners)
    parts = []
    for outline, normal, offset in wedges(pad, reach):
        # Where this is above zero, the bank of this side is dug (or made up): linear over each triangle.
        depth = sign * (ground.level - pad.strip - formation) - slope * (frame @ normal - offset)
        wedge = shapely.Polygon(placement.to_site(outline))
        near = (depth[ground.triangles] > 0).any(axis=1)
        for triangle in ground.triangles[near]:
            piece = _above_zero(corners[triangle], depth[triangle])
            if len(piece) > 2:
                parts.append(shapely.intersection(shapely.Polygon(piece), wedge))
    return shapely.union_all(parts, grid_size=1e-9) if parts else shapely.Polygon()


def _above_zero(corner: FloatArray, depth: FloatArray) -> list[FloatArray]:
    """Return the corners of the part of a triangle where a linear function is not below zero."""
    ring: list[FloatArray] = []
    for i in range(3):
        j = (i + 1) % 3
        if depth[i] >= 0:
            ring.append(corner[i])
        if (depth[i] > 0 > depth[j]) or (depth[i] < 0 < depth[j]):
            ring.append(corner[i] + depth[i] / (depth[i] - depth[j]) * (corner[j] - corner[i]))
    return ring


def _one_piece(whole: shapely.Geometry) -> shapely.Polygon:
    """Return the disturbed area; refuse ground that stands above a bank beyond where the bank first met it."""
    parts = [part for part in shapely.get_parts(whole) if isinstance(part, shapely.Polygon) and part.area > SLIVER]
    if len(parts) != 1 or any(shapely.Polygon(hole).area > SLIVER for hole in parts[0].interiors):
        raise PlacementError(
            "The ground near the pad is as steep as its banks: beyond where a bank meets the ground it would be met "
            "again. Give steeper banks, a retained edge, or a position on gentler ground."
        )
    return parts[0]


def _inside_ground(ground: Ground, disturbed: shapely.Polygon) -> None:
    """Refuse banks that run to the end of the measured ground without meeting it."""
    land = shapely.union_all([shapely.Polygon(ring) for ring in ground.outline()[:1]])
    if not land.buffer(-1e-6).contains(disturbed):
        raise PlacementError(
            "A bank runs out of the measured ground before it meets it. Take shots further out on that side, or give "
            "steeper banks or a retained edge."
        )


def _stakes(
    ground: Ground, pad: Pad, placement: Placement, formation: float, disturbed: shapely.Polygon
) -> tuple[BankStake, ...]:
    """Return the stakes at the corners, out along the mitre, and along the sides, straight out."""
    far = 2.0 * math.hypot(*np.ptp(np.asarray(disturbed.exterior.coords), axis=0))
    names, starts, ways = [], [], []
    found = wedges(pad, 1.0)
    count = len(pad.outline)
    for i, (outline, normal, _) in enumerate(found):
        corner, following = pad.outline[i], pad.outline[(i + 1) % count]
        names.append(pad.names[i])
        starts.append(corner)
        ways.append(outline[1] - corner)
        between = max(1, math.ceil(math.dist(corner, following) / SPACING)) - 1
        for k in range(1, between + 1):
            names.append(f"{pad.names[i]}-{pad.names[(i + 1) % count]} {k}")
            starts.append(corner + k / (between + 1) * (following - corner))
            ways.append(normal)
    stakes = []
    for name, start, way in zip(names, starts, ways, strict=True):
        unit = way / math.hypot(*way)
        ray = shapely.LineString(placement.to_site(np.array([start, start + far * unit])))
        inside = [
            part for part in shapely.get_parts(shapely.intersection(ray, disturbed)) if part.geom_type == "LineString"
        ]
        first = placement.to_site(start[None])[0]
        out = max((part.length for part in inside if part.distance(shapely.Point(first)) < 1e-6), default=0.0)
        place = placement.to_site((start + out * unit)[None])[0]
        level = float(ground.level_at(place[None])[0]) - pad.strip
        kind = "on grade" if out < 1e-6 else ("top of cut" if level > formation else "toe of fill")
        stakes.append(BankStake(name, float(place[0]), float(place[1]), level, out, kind))
    return tuple(stakes)
