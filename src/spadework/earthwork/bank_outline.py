"""Where banks end: the disturbed outline, the areas of cut and fill slope, and the toe and top stakes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from spadework.earthwork.account import Earthwork, earthwork
from spadework.earthwork.bank_levels import LEAST_REACH, banked_levels_batch, slopes_of
from spadework.earthwork.bank_shape import BankShape, bank_shape
from spadework.earthwork.rule import LevelRule, Status
from spadework.errors import PlacementError
from spadework.ground import Ground
from spadework.pad import Edge, Pad, Placement
from spadework.readings import FloatArray

__all__ = ["BankStake", "Banks", "banked_earthwork"]

SLIVER = 1e-6
"""Disturbed areas smaller than this are rounding. [m²]"""
SPACING = 2.0
"""Farthest that two stakes along a side stand apart. [m]"""
CHORD = math.radians(1.0)
"""Step round a cone at which its rim is drawn: off by less than a part in twenty thousand of its radius."""
MET = 1e-6
INWARD = -1e-12


@dataclass(frozen=True, slots=True)
class BankStake:
    """Where a bank meets the ground, straight out from a point of the pad's edge.

    Parameters
    ----------
    name : str
        Corner letter, or side and number: ``B``, ``A-B 1``; beside a round corner ``A-B at B``.
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

    The strip is taken off wherever the banks disturb the ground, and a bank is run out to the stripped ground. Volumes
    and areas are exact; the outline is drawn with chords round the cones of round corners.

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
        If the pad or a bank leaves the measured ground, the ground is as steep as a bank and never met by it, or the
        edge has no slopes.
    """
    slopes = slopes_of(pad)
    inside = earthwork(ground, Pad(pad.outline, pad.build_up, pad.strip, Edge()), placement)
    formation = inside.formation
    pose = np.array([[placement.east, placement.north, placement.bearing]])
    found = banked_levels_batch(ground, pad, pose, LevelRule("fixed", finish=placement.finish))
    cut, fill = float(found.levels.cut[0]), float(found.levels.fill[0])
    cut_area, fill_area = float(found.cut_area[0]), float(found.fill_area[0])
    shape = bank_shape(pad, _reach(ground, pad, formation))
    active = [_active(ground, pad, placement, shape, formation, sign) for sign in (1.0, -1.0)]
    whole = shapely.union_all([shapely.Polygon(placement.corners(pad)), *active], grid_size=1e-9)
    disturbed = _one_piece(whole, steep=bool(found.levels.status[0] == Status.TOO_STEEP))
    _inside_ground(ground, disturbed)
    # Along the rim of what is disturbed the slope meets the ground, and between its corners both are straight.
    rim = np.asarray(disturbed.exterior.coords)[:-1]
    height = ground.level_at(rim) - pad.strip - formation
    banks = Banks(
        cut=max(cut - inside.cut, 0.0),
        fill=max(fill - inside.fill, 0.0),
        cut_area=cut_area * math.hypot(1.0, slopes[0]),
        fill_area=fill_area * math.hypot(1.0, slopes[1]),
        outline=rim,
        stakes=tuple(_stakes(ground, pad, placement, shape, formation, disturbed)),
        cut_height=float(np.nanmax(height, initial=0.0)),
        fill_height=float(np.nanmax(-height, initial=0.0)),
    )
    totals = Earthwork(
        cut=cut,
        fill=fill,
        strip_volume=pad.strip * (pad.area + cut_area + fill_area),
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


def _reach(ground: Ground, pad: Pad, formation: float) -> float:
    """Return how far out the highest or the lowest ground could be met by a slope. [m]"""
    above = float(ground.level.max()) - pad.strip - formation
    below = formation - float(ground.level.min()) + pad.strip
    return max(1.01 * max(above / pad.edge.cut_slope, below / pad.edge.fill_slope), 0.0) + LEAST_REACH


def _active(  # noqa: PLR0917 -- the digging
    ground: Ground, pad: Pad, placement: Placement, shape: BankShape, formation: float, sign: float
) -> shapely.Geometry:
    """Return the part of the plan where the cut banks (sign 1) or the fill banks (-1) are dug or made up."""
    slope = pad.edge.cut_slope if sign > 0 else pad.edge.fill_slope
    corners = np.column_stack([ground.east, ground.north]) + ground.origin
    frame = placement.to_pad(corners)
    height = sign * (ground.level - pad.strip - formation)
    parts = []
    for number in range(len(shape)):
        # Where this is above zero, the bank is dug (or made up): linear over each triangle, or more than it is.
        depth = height - slope * (frame @ shape.plane[number, :2] - shape.plane[number, 2])
        outline = shapely.Polygon(shape.outline(number))
        low, high = shape.outline(number).min(axis=0), shape.outline(number).max(axis=0)
        touches = (frame[ground.triangles].max(axis=1) >= low).all(axis=1)
        touches &= (frame[ground.triangles].min(axis=1) <= high).all(axis=1)
        for triangle in ground.triangles[touches & (depth[ground.triangles] > 0).any(axis=1)]:
            if shape.cone[number]:
                piece = _under_cone(frame[triangle], height[triangle], shape.apex[number], slope, shape.reach)
                ring = shapely.intersection(shapely.Polygon(frame[triangle]), piece)
            else:
                above = _above_zero(frame[triangle], depth[triangle])
                if len(above) < 3:
                    continue
                ring = shapely.Polygon(above)
            parts.append(shapely.intersection(ring, outline))
    whole = shapely.union_all(parts, grid_size=1e-9) if parts else shapely.Polygon()
    return shapely.transform(whole, placement.to_site)


def _under_cone(
    corner: FloatArray, height: FloatArray, apex: FloatArray, slope: float, reach: float
) -> shapely.Polygon:
    """Return where a plane stands above a cone: ``r < a / (s - g cos φ)`` about the cone's corner, with chords."""
    edges = corner[1:] - corner[0]
    gradient = np.linalg.solve(edges, height[1:] - height[0])
    at_apex = float(height[0] + (apex - corner[0]) @ gradient)
    angle = np.arange(0.0, 2 * math.pi - CHORD / 2, CHORD)
    way = np.column_stack([np.cos(angle), np.sin(angle)])
    falls = slope - way @ gradient
    far = np.full(len(angle), 3.0 * reach)
    if at_apex <= 0 and (falls > 0).all():
        return shapely.Polygon()
    if at_apex > 0:
        far = np.where(falls > 0, np.minimum(at_apex / np.where(falls > 0, falls, 1.0), far), far)
    return shapely.Polygon(apex + far[:, None] * way)


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


def _one_piece(whole: shapely.Geometry, *, steep: bool) -> shapely.Polygon:
    """Return the disturbed area; refuse ground that stands above a bank beyond where the bank first met it.

    A hole is an island of ground between banks that face one another: it stays as it is.
    """
    parts = [part for part in shapely.get_parts(whole) if isinstance(part, shapely.Polygon) and part.area > SLIVER]
    if steep or len(parts) != 1:
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


def _starts(pad: Pad) -> Iterator[tuple[str, FloatArray, FloatArray, int]]:
    """Yield name, place on the edge, way out and side of each stake; -1 for a corner.

    At a corner the way is that of the mitre, which at an inward corner is the valley of the two banks.
    """
    corners, names, rounded = np.asarray(pad.outline), pad.names, pad.edge.corners == "round"
    count = len(corners)
    along = np.roll(corners, -1, axis=0) - corners
    along = along / np.hypot(*along.T)[:, None]
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    for i in range(count):
        j = (i + 1) % count
        yield names[i], corners[i], normal[i - 1] + normal[i], -1
        if rounded and pad.radius is None:
            for k in (i, j):
                if np.linalg.det(np.array([normal[k - 1], normal[k]])) > -INWARD:
                    yield f"{names[i]}-{names[j]} at {names[k]}", corners[k], normal[i], i
        between = max(1, math.ceil(math.dist(corners[i], corners[j]) / SPACING)) - 1
        for k in range(1, between + 1):
            share = k / (between + 1)
            yield f"{names[i]}-{names[j]} {k}", corners[i] + share * (corners[j] - corners[i]), normal[i], i


def _stakes(  # noqa: PLR0917 -- the digging
    ground: Ground, pad: Pad, placement: Placement, shape: BankShape, formation: float, disturbed: shapely.Polygon
) -> Iterator[BankStake]:
    """Yield the stakes at the corners, out along the mitre, and along the sides, straight out.

    Straight out from a side near an inward corner the other bank is met before the ground: there is no stake.
    """
    digging = shapely.transform(disturbed, placement.to_pad)
    far = 2.0 * math.hypot(*np.ptp(np.asarray(digging.exterior.coords), axis=0))
    for name, start, way, side in _starts(pad):
        unit = way / math.hypot(*way)
        ray = shapely.LineString([start, start + far * unit])
        out = _first_length(ray, digging, start)
        if side >= 0:
            mine = (shape.owner == side) & (shape.cone == 0)
            own = shapely.union_all([shapely.Polygon(shape.outline(int(number))) for number in np.flatnonzero(mine)])
            if _first_length(ray, own.buffer(MET), start) < out - 10 * MET:
                continue
        place = placement.to_site((start + out * unit)[None])[0]
        level = float(ground.level_at(place[None])[0]) - pad.strip
        kind = "on grade" if out < MET else ("top of cut" if level > formation else "toe of fill")
        yield BankStake(name, float(place[0]), float(place[1]), level, out, kind)


def _first_length(ray: shapely.LineString, area: shapely.Geometry, start: FloatArray) -> float:
    """Return how far along a ray from its start it stays in an area. [m]"""
    inside = [part for part in shapely.get_parts(shapely.intersection(ray, area)) if part.geom_type == "LineString"]
    return float(max((part.length for part in inside if part.distance(shapely.Point(start)) < MET), default=0.0))
